"""Where the notebooks and the example folder are: inside an installed wheel, or beside the code in the repository."""

from pathlib import Path

FIRST = "start-here"
_WHEEL = Path(__file__).with_name("packed_data")  # pyproject.toml puts them there when it builds a wheel
_REPOSITORY = Path(__file__).parent.parent


def notebooks() -> dict[str, Path]:
    """Return the notebooks by name, start-here first, then in the order of their numbers."""
    folder = _WHEEL / "notebooks" if _WHEEL.is_dir() else _REPOSITORY / "notebooks"
    files = sorted(folder.glob("*.ipynb"), key=lambda file: (file.stem != FIRST, file.stem))
    return {file.stem: file for file in files}


def example_folder() -> Path:
    """Return the folder of the invented example shop. It is for reading; planner new --example copies it."""
    return _WHEEL / "example" if _WHEEL.is_dir() else _REPOSITORY / "data" / "example"
