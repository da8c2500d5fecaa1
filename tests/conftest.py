import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder of the openly licensed data sets; DEVELOPERS.md says where they come from."""
    folder = os.environ.get("PLANNER_OPEN_DATA", "")
    if not folder:
        pytest.skip("PLANNER_OPEN_DATA does not name the folder with the open data sets")
    path = Path(folder)
    assert path.is_dir(), f"PLANNER_OPEN_DATA names {folder}, which is no folder"
    return path
