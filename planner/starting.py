"""Starts a maker's folder: an empty one with commented settings, or a copy of the invented example."""

import shutil
from pathlib import Path

from planner.packed import example_folder
from planner.problems import MakerError, Problem

BLANK = Path(__file__).with_name("blank")
NOT_COPIED = ("results", ".*", "__pycache__")


def new_folder(folder: str | Path, example: bool = False) -> str:
    """Write a folder to start with and return what to do next. Raises MakerError where something is there already."""
    path = Path(folder)
    if path.exists() and (not path.is_dir() or any(path.iterdir())):
        raise MakerError(
            Problem(str(path), 0, "", "is there already, and nothing in it is overwritten.", "Take another name.")
        )
    if example:
        shutil.copytree(example_folder(), path, ignore=shutil.ignore_patterns(*NOT_COPIED), dirs_exist_ok=True)
        return f"{path} now holds the example, an invented shop.\nNext: planner run {path}"
    (path / "sales").mkdir(parents=True)
    for name in ("shop.toml", "scents.csv"):
        shutil.copyfile(BLANK / name, path / name)
    return "\n".join(
        [
            f"{path} is ready to fill in:",
            "  shop.toml    your shop: season, bench hours, how to read your sales; every line is explained in it",
            "  scents.csv   one line for each scent; its columns are explained at the end of shop.toml",
            "  sales        put the sales exports of your shop here, as they are",
            f"Next: planner check {path}",
        ]
    )
