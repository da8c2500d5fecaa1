"""The command `planner`: reads its arguments, calls one function, prints. Wrong use is one sentence and exit code 2."""

import argparse
import os
import sys
from collections.abc import Sequence

from planner.problems import MakerError

WRONG_USE = 2
FAILED = 1
REQUIRED = ("shop.toml", "scents.")  # files that nothing goes on without: the folder is right, what is in it is not
STOPPED = 130  # what a shell expects after Ctrl-C


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0, 1 for a failed notebook or required file, 2 for wrong use."""
    given = parser().parse_args(arguments)
    try:
        return int(given.command(given))
    except MakerError as error:
        print(f"planner {given.name}: {error}", file=sys.stderr)
        return FAILED if _is_a_shop(given.folder) and error.problems[0].file.startswith(REQUIRED) else WRONG_USE
    except BrokenPipeError:  # whoever read the output has had enough of it
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        print(
            f"planner {given.name}: {where}{error.strerror or error}. Check its name and its rights.", file=sys.stderr
        )
        return WRONG_USE
    except KeyboardInterrupt:
        print("\nStopped. What was finished is kept.", file=sys.stderr, flush=True)
        os._exit(STOPPED)  # threads that wait for a notebook would hold an ordinary exit up


def _is_a_shop(folder: str) -> bool:
    return os.path.isfile(os.path.join(folder, "shop.toml"))


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line, with a help text for every command and argument."""
    top = argparse.ArgumentParser(prog="planner", description="What to make, when, from what, and what was lost.")
    commands = top.add_subparsers(metavar="COMMAND", required=True)
    new = _command(commands, "new", _new, "start a folder for your shop")
    new.add_argument("--example", action="store_true", help="fill it with the invented example shop")
    check = _command(commands, "check", _check, "say whether everything in the folder can be read")
    run = _command(commands, "run", _run, "run the notebooks and write their pages to results/")
    run.add_argument("notebooks", nargs="*", metavar="NOTEBOOK", help="only these, like 4-restock-plan")
    for command in (check, run):
        command.add_argument("--today", default="", metavar="DATE", help="plan as if it were this day, like 2026-09-28")
    lab = _command(commands, "lab", _lab, "open the notebooks in JupyterLab")
    lab.add_argument("--no-browser", action="store_true", help="only print the address")
    return top


def _command(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]", name: str, call: object, text: str
) -> argparse.ArgumentParser:
    command = commands.add_parser(name, help=text, description=f"{text[0].upper()}{text[1:]}.")
    command.add_argument("folder", metavar="FOLDER", help="the folder of your shop")
    command.set_defaults(command=call, name=name)
    return command


def _new(given: argparse.Namespace) -> int:
    from planner.starting import new_folder

    print(new_folder(given.folder, given.example))
    return 0


def _check(given: argparse.Namespace) -> int:
    from planner.checking import check_text, formula_problems, shelf_problems
    from planner.files import load_folder
    from planner.plausible import look_over
    from planner.sales import read_sales

    shop = load_folder(given.folder, given.today)
    books = read_sales(shop.exports, shop.settings, shop["scents"], shop["sets"], shop.today)
    odd = look_over(books.sales, books.accounts, shop["scents"], shop["calendar"], shop.settings, shop.today)
    print(check_text(shop, books, [*shelf_problems(shop, books), *formula_problems(shop)], odd))
    return 0


def _run(given: argparse.Namespace) -> int:
    from planner.running import run_notebooks

    outcomes = run_notebooks(given.folder, given.notebooks, given.today)
    failures = [outcome.failure for outcome in outcomes if outcome.failure]
    for failure in failures:
        print(failure, file=sys.stderr)
    print(f"Open {os.path.join(given.folder, 'results', 'index.html')} in a browser.")
    return FAILED if failures else 0


def _lab(given: argparse.Namespace) -> int:
    from planner.lab import open_lab

    open_lab(given.folder, browser=not given.no_browser)
    return 0


if __name__ == "__main__":
    sys.exit(main())
