"""What several test files share: the open data's folder, and the example after one run of all its notebooks."""

import os
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import settings

from planner.running import Outcome, run_notebooks
from planner.starting import new_folder

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):  # elsewhere every run tries new examples; what it finds becomes an example of its own
    settings.load_profile("repeatable")


class ExampleRun(NamedTuple):
    """A copy of the example after `planner run`: its results folder and how each notebook went."""

    results: Path
    outcomes: tuple[Outcome, ...]


@pytest.fixture(scope="session")
def example_run(tmp_path_factory: pytest.TempPathFactory) -> ExampleRun:
    """Run the example once for every test that looks at its results."""
    shop = tmp_path_factory.mktemp("example") / "shop"
    new_folder(shop, example=True)
    return ExampleRun(shop / "results", run_notebooks(shop, say=lambda _: None))


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder of the openly licensed data sets; DEVELOPERS.md says where they come from."""
    folder = os.environ.get("PLANNER_OPEN_DATA", "")
    if not folder:
        pytest.skip("PLANNER_OPEN_DATA does not name the folder with the open data sets")
    path = Path(folder)
    assert path.is_dir(), f"PLANNER_OPEN_DATA names {folder}, which is no folder"
    return path
