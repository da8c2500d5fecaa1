"""Runs the notebooks on a maker's folder, two at a time, and writes their pages, pictures and the index."""

import contextlib
import json
import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from planner import warm
from planner.files import RESULTS, Folder, load_folder
from planner.index import Entry, write_index
from planner.packed import notebooks as packed_notebooks
from planner.pages import INDEX, Shop, add_pictures, chart_script, question, write_page
from planner.pictures import LATER
from planner.problems import MakerError, Problem

AT_ONCE = 2  # more gain nothing on two cores, and each takes memory
QUIET = ["--IPKernelApp.log_level=ERROR"]  # ipykernel warns at every start that its local sockets are not encrypted


@dataclass(frozen=True)
class Outcome:
    """How one notebook went: `failure` is empty or the sentence that says what failed and what to do."""

    name: str
    question: str
    seconds: float
    failure: str = ""


@dataclass(frozen=True)
class Job:
    """One run: what is read, where it goes, and what runs the notebooks."""

    sources: Mapping[str, Path]
    results: Path
    parameters: Mapping[str, Any]
    shop: Shop
    kernels: warm.Warm | None
    drawing: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1))


def run_notebooks(
    folder: str | Path,
    names: Sequence[str] = (),
    today: str = "",
    parameters: Mapping[str, Any] | None = None,
    say: Callable[[str], None] = print,
    sources: Mapping[str, Path] | None = None,
) -> tuple[Outcome, ...]:
    """Run notebooks (all, or those named) on a folder; write notebooks, pages, tables and index below its results/.

    `parameters` are handed to every notebook that has them. Raises MakerError for a folder, notebook or parameter
    that does not exist, before anything runs; what goes wrong in a notebook is in its Outcome.
    """
    sources = packed_notebooks() if sources is None else sources
    kernels = warm.start()
    try:
        shop_folder = load_folder(folder, today)
        chosen = _chosen(names, sources)
        given = {"folder": str(shop_folder.path.resolve()), "today": today, **(parameters or {})}
        _refuse_unknown(given, [sources[name] for name in chosen])
        job = Job(sources, shop_folder.path / RESULTS, given, _shop(shop_folder, sources), kernels)
        (job.results / "notebooks").mkdir(parents=True, exist_ok=True)
        return _run_and_index(job, chosen, say)
    finally:
        warm.stop(kernels)


def _run_and_index(job: Job, names: Sequence[str], say: Callable[[str], None]) -> tuple[Outcome, ...]:
    outcomes: tuple[Outcome, ...] = ()
    try:
        with _pictures_later(), job.drawing:
            outcomes = _run(job, names, say)
    finally:  # after Ctrl-C too, for what is finished
        _write_index(job, outcomes)
    return outcomes


def _write_index(job: Job, outcomes: Sequence[Outcome]) -> None:
    """Write the index page from these outcomes and, for notebooks that did not run now, from their last run."""
    now = {outcome.name: Entry(outcome.name, outcome.question, outcome.failure) for outcome in outcomes}
    entries = [now.get(name) or Entry(name, *_last_run(job.results, name)) for name in job.sources]
    write_index(job.results, job.shop, entries)


def _last_run(results: Path, name: str) -> tuple[str, str]:
    with contextlib.suppress(OSError, ValueError, KeyError):
        kept = json.loads((results / "notebooks" / f"{name}.ipynb").read_text(encoding="utf-8"))["metadata"]["planner"]
        return kept["question"], kept["failure"]
    return name, ""


def _chosen(names: Sequence[str], sources: Mapping[str, Path]) -> list[str]:
    names = [Path(name).stem for name in names] or list(sources)
    for name in names:
        if name not in sources:
            raise MakerError(Problem(name, 0, "", "is not a notebook.", f"There are: {', '.join(sources)}."))
    return [name for name in sources if name in names]


def _refuse_unknown(given: Mapping[str, Any], files: Sequence[Path]) -> None:
    known = {name for file in files for name in _parameters(file)}
    for name in given:
        if name not in known and name not in ("folder", "today"):
            raise MakerError(Problem(name, 0, "", "is not a parameter.", f"There are: {', '.join(sorted(known))}."))


def _parameters(file: Path) -> list[str]:
    from papermill import inspect_notebook

    return list(inspect_notebook(str(file)))


def _shop(folder: Folder, sources: Mapping[str, Path]) -> Shop:
    pages = {INDEX: "Overview", **{f"{name}.html": name for name in sources}}
    settings = folder.settings
    return Shop(settings.name, settings.note, f"{folder.today:%A} {folder.today.day} {folder.today:%B %Y}", pages)


@contextlib.contextmanager
def _pictures_later() -> Iterator[None]:
    """Tell kernels not to draw charts: this process does it once for notebook and page, with one drawing program."""
    before = os.environ.get(LATER)
    os.environ[LATER] = "0"
    try:
        yield
    finally:
        if before is None:
            del os.environ[LATER]
        else:
            os.environ[LATER] = before


def _run(job: Job, names: Sequence[str], say: Callable[[str], None]) -> tuple[Outcome, ...]:
    say(f"Making {len(names)} page{'s' if len(names) != 1 else ''} in {job.results}")
    began = time.monotonic()
    job.drawing.submit(chart_script)  # takes a second: do it while the first kernels start
    done: dict[str, Outcome] = {}
    runners = ThreadPoolExecutor(AT_ONCE)
    try:
        # the longest first, so that none is left running alone and the two that plan do not plan at once
        longest_first = sorted(names, key=lambda name: -job.sources[name].stat().st_size)
        running = [runners.submit(_one, job, name) for name in longest_first]
        for future in as_completed(running):
            outcome = future.result().result()
            done[outcome.name] = outcome
            say(_progress(outcome, len(done), len(names), time.monotonic() - began))
    finally:  # after Ctrl-C, wait for no notebook and draw nothing of what was cut short
        runners.shutdown(wait=False, cancel_futures=True)
        job.drawing.shutdown(wait=False, cancel_futures=True)
    return tuple(done[name] for name in names)


def _progress(outcome: Outcome, done: int, count: int, seconds: float) -> str:
    how = "stopped before its end" if outcome.failure else f"done in {outcome.seconds:.1f} s"
    left = f", about {max(1, round(seconds / done * (count - done)))} s left" if done < count else ""
    return f"  {done} of {count}  {outcome.name}: {how}{left}"


def _one(job: Job, name: str) -> "Future[Outcome]":
    """Run one notebook, then hand it to the one thread that draws."""
    began = time.monotonic()
    (job.results / "figures" / f"{name}.json").unlink(missing_ok=True)  # of an earlier run
    notebook, failure = _executed(job, name)
    return job.drawing.submit(_finish, job, name, notebook, failure, began)


def _finish(job: Job, name: str, notebook: Any, failure: str, began: float) -> Outcome:
    """Add pictures, write notebook and page. A chart that cannot be drawn is this notebook's failure only."""
    import nbformat

    title = question(notebook)
    try:
        add_pictures(notebook)
        write_page(notebook, job.results / f"{name}.html", job.shop, failure)
    except Exception as error:  # whatever it is, the other pages must go on
        failure = failure or _our_fault(name, f"its page could not be drawn ({type(error).__name__}: {error})")
    notebook.metadata["planner"] = {"question": title, "failure": failure}
    nbformat.write(notebook, job.results / "notebooks" / f"{name}.ipynb")
    return Outcome(name, title, time.monotonic() - began, failure)


def _executed(job: Job, name: str) -> tuple[Any, str]:
    """Return the notebook as far as it ran, and the sentence that says why it stopped, if it did."""
    import nbformat
    from jupyter_core.utils import ensure_event_loop
    from papermill.exceptions import PapermillExecutionError

    target = job.results / "notebooks" / f"{name}.ipynb"
    try:
        with contextlib.closing(ensure_event_loop()):  # this thread's own, which papermill would leave open
            return _papermill(job, name, target), ""
    except PapermillExecutionError as error:
        said = error.evalue if error.ename == "MakerError" else _our_fault(name, f"{error.ename}: {error.evalue}")
        return nbformat.read(target, as_version=4), said
    except Exception as error:  # a kernel that died, a notebook that cannot be read
        return nbformat.read(job.sources[name], as_version=4), _our_fault(name, f"{type(error).__name__}: {error}")


def _our_fault(name: str, what: str) -> str:
    said = what.strip().splitlines()[0].removesuffix(".")
    return (
        f"{name} could not be made: {said}. This is a fault of the planner, not of your files; "
        f"the details are in {RESULTS}/notebooks/{name}.ipynb."
    )


def _papermill(job: Job, name: str, target: Path) -> Any:
    known = _parameters(job.sources[name])
    options: dict[str, Any] = {
        "parameters": {key: value for key, value in job.parameters.items() if key in known},
        "progress_bar": False,
        "record_timing": False,
        "request_save_on_cell_execute": False,
        "extra_arguments": list(QUIET),
        "resources": {"metadata": {"path": str(target.parent)}},  # where the kernel works
        "shutdown_kernel": "immediate",  # nothing is left to be saved in it
    }
    return _with_kernel(job.kernels, str(job.sources[name]), str(target), options)


def _with_kernel(kernels: warm.Warm | None, source: str, target: str, options: Mapping[str, Any]) -> Any:
    from nbclient.exceptions import DeadKernelError
    from papermill import execute_notebook

    if kernels is not None:
        try:
            return execute_notebook(source, target, kernel_manager_class=warm.kernel_manager(kernels), **options)
        except DeadKernelError:  # it ran and died: it would again
            raise
        except RuntimeError:  # the copied kernel never answered: an ordinary one may
            pass
    return execute_notebook(source, target, **options)
