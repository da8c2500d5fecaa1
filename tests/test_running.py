"""Runs small notebooks on a small shop, once for all tests of this file."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import nbformat
import pytest
from toy_notebooks import CHART, LOAD, SAVE, write_notebook, write_shop

from planner import warm
from planner.pictures import V5
from planner.problems import MakerError
from planner.running import run_notebooks

MAKER_ERROR = 'raise MakerError(Problem("stock.csv", 3, "", "is odd.", "Look at it."))'


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    place = tmp_path_factory.mktemp("running")
    shop = write_shop(place / "shop")
    sources = {
        "1-good": write_notebook(place / "1-good.ipynb", LOAD, CHART, "as_html(table, 'All scents')", SAVE),
        "2-maker": write_notebook(
            place / "2-maker.ipynb", LOAD, "print('so far')", MAKER_ERROR, "print('not reached')"
        ),
        "3-fault": write_notebook(place / "3-fault.ipynb", "1 / 0"),
        "4-where": write_notebook(place / "4-where.ipynb", "import os\nprint(os.getcwd(), os.getpid())"),
    }
    said = []
    outcomes = run_notebooks(shop, today="2026-09-28", say=said.append, sources=sources)
    return shop / "results", outcomes, said, sources


def test_every_notebook_has_an_outcome_in_order(ran):
    _, outcomes, _, sources = ran
    assert [outcome.name for outcome in outcomes] == list(sources)
    assert [bool(outcome.failure) for outcome in outcomes] == [False, True, True, False]


def test_failures_are_sentences_that_say_what_to_do(ran):
    _, outcomes, _, _ = ran
    assert outcomes[1].failure == "stock.csv, row 3: is odd. Look at it."
    assert outcomes[2].failure == (
        "3-fault could not be made: ZeroDivisionError: division by zero. This is a fault of the planner, not of your "
        "files; the details are in results/notebooks/3-fault.ipynb."
    )


def test_page_of_a_failed_notebook_goes_up_to_the_failure_without_traceback(ran):
    results, outcomes, _, _ = ran
    page = (results / "2-maker.html").read_text(encoding="utf-8")
    assert "so far" in page
    assert outcomes[1].failure in page
    assert "Traceback" not in page
    assert "MakerError" not in page
    assert "not reached" not in page
    assert "After the code." not in page


def test_executed_notebook_keeps_live_chart_picture_and_description(ran):
    results, _, _, _ = ran
    notebook = nbformat.read(results / "notebooks" / "1-good.ipynb", as_version=4)
    nbformat.validate(notebook)
    charts = [
        output.data for cell in notebook.cells for output in cell.get("outputs", []) if V5 in output.get("data", {})
    ]
    assert len(charts) == 1
    assert charts[0]["image/png"].startswith("iVBOR")  # how every PNG begins, in base64
    assert charts[0]["text/plain"] == "Fig 3, Rose 1,200 bottles"


def test_table_and_figures_reach_the_index(ran):
    results, _, _, _ = ran
    index = (results / "index.html").read_text(encoding="utf-8")
    assert (results / "plan.csv").read_bytes() == b"scent,bottles\nFig,3\nRose & Oud,1200\n"
    for text in (
        "plan.csv",
        "Bottles in all",
        "1,203",
        'href="1-good.html"',
        "stock.csv, row 3: is odd.",
        "Invented shop.",
    ):
        assert text in index


def test_notebooks_work_below_results_each_in_its_own_process(ran):
    results, _, _, _ = ran
    notebook = nbformat.read(results / "notebooks" / "4-where.ipynb", as_version=4)
    where, number = notebook.cells[3].outputs[0].text.rsplit(maxsplit=1)
    assert Path(where) == (results / "notebooks").resolve()
    assert int(number) != os.getpid()


def test_progress_counts_to_the_end(ran):
    _, _, said, _ = ran
    assert "4 of 4" in said[-1]
    assert "s left" in said[1]
    assert "left" not in said[-1]


def test_running_one_notebook_again_keeps_the_others_on_the_index(ran):
    results, _, _, sources = ran
    outcomes = run_notebooks(results.parent, ["4-where"], say=lambda _: None, sources=sources)
    index = (results / "index.html").read_text(encoding="utf-8")
    assert [outcome.name for outcome in outcomes] == ["4-where"]
    assert "stock.csv, row 3: is odd." in index
    assert 'href="1-good.html"' in index


def test_ordinary_kernels_give_the_same(ran, monkeypatch):
    results, _, _, sources = ran
    before = json.loads((results / "notebooks" / "1-good.ipynb").read_text(encoding="utf-8"))["cells"]
    monkeypatch.setattr(warm, "start", lambda: None)
    run_notebooks(results.parent, ["1-good"], "2026-09-28", say=lambda _: None, sources=sources)
    after = json.loads((results / "notebooks" / "1-good.ipynb").read_text(encoding="utf-8"))["cells"]
    assert [cell.get("outputs") for cell in after] == [cell.get("outputs") for cell in before]


@pytest.mark.skipif(sys.platform != "linux", reason="kernels are copied on Linux only")
def test_a_dead_warm_process_falls_back_to_ordinary_kernels(ran, monkeypatch):
    results, _, _, sources = ran
    dead = subprocess.Popen([sys.executable, "-c", ""], stdin=-1, stdout=-1, text=True)
    dead.wait()
    monkeypatch.setattr(warm, "start", lambda: warm.Warm(dead))
    assert not run_notebooks(results.parent, ["1-good"], say=lambda _: None, sources=sources)[0].failure


def test_unknown_notebook_and_parameter_are_refused_before_anything_runs(ran):
    results, _, _, sources = ran
    with pytest.raises(MakerError, match=r"5-none: is not a notebook\. There are: 1-good, 2-maker"):
        run_notebooks(results.parent, ["5-none"], sources=sources)
    with pytest.raises(MakerError, match=r"horizont: is not a parameter\. There are: folder, today"):
        run_notebooks(results.parent, parameters={"horizont": 6}, sources=sources)


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C cannot be sent to one process there")
def test_ctrl_c_keeps_what_is_finished_and_leaves_no_process(tmp_path):
    shop = write_shop(tmp_path / "shop")
    write_notebook(tmp_path / "1-quick.ipynb", "1 + 1")
    write_notebook(
        tmp_path / "2-slow.ipynb", "import os, time\nopen('pid', 'w').write(str(os.getpid()))\ntime.sleep(600)"
    )
    code = (
        "import signal, sys; from pathlib import Path; from planner import cli, running; place = Path(sys.argv[1]);"
        "signal.signal(signal.SIGINT, signal.default_int_handler);"  # a suite that runs in the background ignores it
        "running.packed_notebooks = lambda: {file.stem: file for file in sorted(place.glob('*.ipynb'))};"
        "sys.exit(cli.main(['run', str(place / 'shop')]))"
    )
    with subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=-1, stderr=-1, text=True) as command:
        try:
            lines = iter(command.stdout.readline, "")
            next(line for line in lines if "1 of 2" in line)
            pid = shop / "results" / "notebooks" / "pid"
            wait_until(lambda: pid.is_file() and pid.read_text())
            command.send_signal(signal.SIGINT)
            assert command.wait(timeout=60) == 130
            assert command.stderr.read().strip() == "Stopped. What was finished is kept."
        finally:
            command.kill()  # so that a failure is a failure, and not a test that never ends
    assert (shop / "results" / "1-quick.html").is_file()
    wait_until(lambda: not Path(f"/proc/{pid.read_text()}").exists())


def wait_until(holds):
    for _ in range(1200):
        if holds():
            return
        time.sleep(0.05)
    pytest.fail("it did not happen within 60 s")
