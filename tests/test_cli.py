"""Commands: help, exit codes, and one sentence without a traceback for what a maker may get wrong."""

import re
import subprocess
import sys
import tomllib

import pytest
from toy_notebooks import write_shop

from planner import running
from planner.cli import main, parser
from planner.packed import example_folder
from planner.running import Outcome
from planner.settings import read_settings
from planner.starting import BLANK, new_folder

COMMANDS = ("new", "check", "run", "lab")


def call(capsys, *arguments):
    code = main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    return code, said.out, said.err


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(capsys, command):
    with pytest.raises(SystemExit) as end:
        main([command, "--help"])
    assert end.value.code == 0
    assert "FOLDER" in capsys.readouterr().out


def test_help_names_every_command():
    assert all(command in parser().format_help() for command in COMMANDS)


def test_no_command_and_unknown_command_are_wrong_use(capsys):
    for arguments in ([], ["chek", "shop"]):
        with pytest.raises(SystemExit) as end:
            main(arguments)
        assert end.value.code == 2
        assert "COMMAND" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["check", "run", "lab"])
def test_a_missing_folder_a_file_and_an_empty_folder_are_one_sentence(capsys, tmp_path, command):
    (tmp_path / "file").write_text("x")
    (tmp_path / "empty").mkdir()
    for name, what in (("none", "is not a folder"), ("file", "is not a folder"), ("empty", "shop.toml: is not in")):
        code, out, err = call(capsys, command, tmp_path / name)
        assert (code, out) == (2, "")
        assert err.count("\n") == 1
        assert what in err
        assert "planner new FOLDER" in err


@pytest.mark.parametrize("command", ["check", "run"])
def test_a_folder_without_scents_and_a_bad_day_are_one_sentence(capsys, tmp_path, command):
    shop = write_shop(tmp_path / "shop")
    code, _, err = call(capsys, command, shop, "--today", "28.9.2026")
    assert code == 2
    assert "'28.9.2026', which is not a day" in err
    (shop / "scents.csv").unlink()
    code, _, err = call(capsys, command, shop)
    assert code == 1
    assert re.fullmatch(rf"planner {command}: scents\.csv: is not in .*\. Write one .*\n", err)


def test_check_says_what_was_read_set_aside_and_absent(capsys, tmp_path):
    shop = write_shop(tmp_path / "shop")
    with (shop / "shop.toml").open("a") as file:
        file.write('[[export]]\nfiles = "*.csv"\nsource = "web"\nchannel = "web"\n')
        file.write('columns = {day = "Date", item = "Item", bottles = "Quantity", price = "Price"}\n')
    lines = ["Date,Item,Quantity,Price", "2025-01-03,Fig,2,10", "2025-01-04,Rose,1,10", "2025-01-04,Fig,1,-3"]
    (shop / "sales" / "web.csv").write_text("\n".join(lines) + "\n")
    (shop / "sales" / "picture.csv").write_bytes(bytes(range(256)) * 20)
    (shop / "sales" / "nothing.csv").write_bytes(b"")
    code, out, _ = call(capsys, "check", shop, "--today", "2025-02-03")
    assert code == 0
    assert out.startswith("Toy & Co, as of Monday 3 February 2025.\nInvented shop.\n")
    assert "scents (1)" in out
    assert "web.csv: 3 lines read, 1 counted, 0 already in another file, 2 set aside, 2025-01-03 to 2025-01-03" in out
    assert "In all 2 bottles sold and 0 refunded." in out
    for sentence in (
        "Rose' is not in scents.csv",
        "row 4",
        "picture.csv",
        "nothing.csv",
        "stock.csv: days without stock",
    ):
        assert sentence in out


def test_check_caps_a_long_list_of_problems(capsys, tmp_path):
    shop = write_shop(tmp_path / "shop")
    (shop / "stock.csv").write_text(
        "date,scent,on_hand\n" + "".join(f"2025-01-{day:02},Fog,1\n" for day in range(1, 31))
    )
    _, out, _ = call(capsys, "check", shop)
    assert out.count("Did you mean Fig?") == 12
    assert re.search(r"and \d+ more; the page 1-sales-check lists them all", out)


def test_check_names_what_the_shelf_contradicts(capsys, tmp_path):
    shop = write_shop(tmp_path / "shop")
    (shop / "scents.csv").write_text("scent,price\nFig,18\n")
    (shop / "stock.csv").write_text("date,scent,on_hand\n2030-01-05,Fig,5\n")
    (shop / "runs.csv").write_text("lot,date,scent,bottles_filled,ready_on\nL1,2024-06-05,Fig,20,2024-06-01\n")
    _, out, _ = call(capsys, "check", shop, "--today", "2025-02-03")
    assert "stock.csv, row 2, date: Fig on 2030-01-05 is after today (2025-02-03)." in out
    assert "runs.csv, row 2, ready_on: Lot L1 was ready on 2024-06-01, before it was mixed." in out
    assert "Nothing is wrong" not in out


def test_check_imports_no_jupyter_altair_or_solver(tmp_path):
    shop = write_shop(tmp_path / "shop")
    code = (
        "import sys; from planner.cli import main; main(['check', sys.argv[1]]); "
        "print([name for name in ('altair', 'papermill', 'nbformat', 'nbconvert', 'jupyterlab', 'IPython', 'scipy', "
        "'highspy', 'pint', 'vl_convert') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(shop)], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(("failure", "code"), [("", 0), ("stock.csv: is odd. Look at it.", 1)])
def test_run_ends_with_failures_and_the_page_to_open(capsys, monkeypatch, tmp_path, failure, code):
    monkeypatch.setattr(running, "run_notebooks", lambda *_: (Outcome("1-a", "A?", 1.0, failure),))
    ended, out, err = call(capsys, "run", tmp_path)
    assert ended == code
    assert err.strip() == failure
    assert f"Open {tmp_path}/results/index.html in a browser." in out


def test_run_refuses_an_unknown_notebook(capsys, tmp_path):
    code, _, err = call(capsys, "run", write_shop(tmp_path / "shop"), "9-none")
    assert code == 2
    assert "9-none: is not a notebook." in err


def test_new_writes_only_what_is_needed_and_never_overwrites(capsys, tmp_path):
    shop = tmp_path / "shop"
    code, out, _ = call(capsys, "new", shop)
    assert code == 0
    assert f"Next: planner check {shop}" in out
    assert sorted(path.name for path in shop.iterdir()) == ["sales", "scents.csv", "shop.toml"]
    before = (shop / "shop.toml").read_bytes()
    code, _, err = call(capsys, "new", shop, "--example")
    assert code == 2
    assert "is there already" in err
    assert (shop / "shop.toml").read_bytes() == before


def test_the_blank_settings_are_valid_with_and_without_what_is_commented_out():
    text = (BLANK / "shop.toml").read_text(encoding="utf-8")
    assert read_settings(text).name == "My shop"
    notes, _, _ = text.partition("# The columns of scents.csv")
    wanted = re.sub(r"^# (?=\[|\"|[a-z_]+ = )", "", notes, flags=re.MULTILINE)
    settings = read_settings(wanted)
    assert wanted.count("\n#") < notes.count("\n#")
    assert settings.season is not None
    assert settings.exports[0].columns["bottles"] == "Quantity"
    assert (len(settings.channels), len(settings.vessels), len(settings.scales)) == (2, 1, 1)
    assert settings.names == {"Fig rollon 10ml": "Fig"}
    assert tomllib.loads(wanted)["today"]


def test_the_example_is_copied_without_results(tmp_path):
    new_folder(tmp_path / "shop", example=True)
    names = {path.name for path in (tmp_path / "shop").iterdir()}
    assert names == {path.name for path in example_folder().iterdir() if path.name[0] != "." and path.name != "results"}
