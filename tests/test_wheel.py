"""The wheel, built and installed in a fresh environment, does the main job from any folder. Needs a package index."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).parent.parent
CONSTRAINTS = REPOSITORY / ".ci" / "constraints.txt"


def run(*command, cwd):
    """Run a command with an environment that knows nothing of the repository, and return what it printed."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "PLANNER"))}
    done = subprocess.run([str(part) for part in command], cwd=cwd, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    place = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--outdir", place, REPOSITORY, cwd=place)
    return next(place.glob("*.whl"))


def test_wheel_holds_code_notebooks_and_example_and_nothing_else(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    example = {
        path.relative_to(REPOSITORY / "data").as_posix() for path in (REPOSITORY / "data" / "example").rglob("*.*")
    }
    wanted = {
        f"planner/packed_data/{name}" for name in example if not name.startswith(("example/results", "example/."))
    }
    wanted |= {f"planner/packed_data/notebooks/{path.name}" for path in (REPOSITORY / "notebooks").glob("*.ipynb")}
    assert {name for name in names if "packed_data" in name} == wanted
    assert {name.split("/")[0] for name in names if ".dist-info" not in name} == {"planner"}
    assert not [name for name in names if "__pycache__" in name or name.endswith((".keep", ".pyc"))]


def test_installed_wheel_does_the_main_job_from_any_folder(wheel, tmp_path):
    venv.create(tmp_path / "fresh", with_pip=True)
    programs = tmp_path / "fresh" / ("Scripts" if os.name == "nt" else "bin")
    bounds = ["-c", CONSTRAINTS] if CONSTRAINTS.is_file() else []
    run(programs / "python", "-m", "pip", "install", "--quiet", *bounds, wheel, cwd=tmp_path)
    where = run(programs / "python", "-c", "import planner; print(planner.__file__)", cwd=tmp_path)
    assert Path(where.strip()).is_relative_to((tmp_path / "fresh").resolve())
    run(programs / "planner", "new", "shop", "--example", cwd=tmp_path)
    run(programs / "planner", "check", "shop", cwd=tmp_path)
    said = run(programs / "planner", "run", "shop", cwd=tmp_path)
    results = tmp_path / "shop" / "results"
    assert f"Open {Path('shop') / 'results' / 'index.html'} in a browser." in said
    for notebook in (REPOSITORY / "notebooks").glob("*.ipynb"):
        assert (results / f"{notebook.stem}.html").is_file()
    assert (results / "plan.csv").is_file()
