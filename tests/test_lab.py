"""JupyterLab on a maker's folder: this machine only, its own token, no news, the notebooks of the folder."""

import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request

import nbformat
import pytest
from toy_notebooks import write_shop

from planner.lab import lab_arguments, missing_notebooks
from planner.packed import notebooks


def test_missing_notebooks_know_the_folder_and_others_are_left_alone(tmp_path):
    shop = write_shop(tmp_path / "shop")
    target = shop / "results" / "notebooks"
    target.mkdir(parents=True)
    (target / "4-restock-plan.ipynb").write_text("run before")
    assert missing_notebooks(shop) == [name for name in notebooks() if name != "4-restock-plan"]
    assert (target / "4-restock-plan.ipynb").read_text() == "run before"
    cells = nbformat.read(target / "start-here.ipynb", as_version=4).cells
    given = next(cell.source for cell in cells if "injected-parameters" in cell.metadata.get("tags", []))
    assert f'folder = "{shop}"' in given


def test_lab_listens_on_this_machine_only(tmp_path):
    arguments = lab_arguments(tmp_path, browser=False)
    assert "--ServerApp.ip=127.0.0.1" in arguments
    assert "--no-browser" in arguments
    assert not [argument for argument in arguments if "token" in argument]  # Jupyter makes a new one each time
    assert "--no-browser" not in lab_arguments(tmp_path)


def fetched(address):
    with urllib.request.urlopen(address, timeout=20) as answer:
        return answer.read().decode()


def listens(place):
    try:
        socket.create_connection(("127.0.0.1", int(place.rsplit(":", 1)[1]))).close()
    except ConnectionRefusedError:
        return False
    return True


@pytest.fixture
def address(tmp_path):
    command = [sys.executable, "-m", "planner.cli", "lab", str(write_shop(tmp_path / "shop")), "--no-browser"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as server:
        try:
            lines = iter(server.stderr.readline, "")
            yield next(found[0] for line in lines if (found := re.search(r"http://127\S+token=\w+", line)))
        finally:
            server.terminate()
            server.stderr.close()


def test_lab_opens_at_start_here_with_its_token_and_without_news(address):
    where = r"(http://127\.0\.0\.1:\d+)/lab/tree/results/notebooks/start-here\.ipynb\?token=(\w+)"
    place, token = re.fullmatch(where, address).groups()
    for _ in range(200):  # it says its address a moment before it listens
        if listens(place):
            break
        time.sleep(0.05)
    assert '"shop.toml"' in fetched(f"{place}/api/contents?token={token}")  # the folder is the root
    assert "@jupyterlab/apputils-extension:announcements" in fetched(address)
    with pytest.raises(urllib.error.HTTPError, match="403") as refused:
        fetched(f"{place}/api/contents")
    refused.value.close()
