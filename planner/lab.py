"""Opens JupyterLab on a maker's folder, on this machine only, at the notebook start-here."""

import os
import sys
from pathlib import Path

from planner.files import RESULTS, load_folder
from planner.packed import FIRST, notebooks

CONFIG = Path(__file__).parent  # JupyterLab looks for labconfig/page_config.json below it: no news pop-up


def open_lab(folder: str | Path, browser: bool = True) -> None:
    """Write the notebooks that are missing below the folder's results/ and run JupyterLab until it is closed.

    Raises MakerError when the folder cannot be read.
    """
    path = load_folder(folder).path.resolve()
    missing_notebooks(path)
    known = os.environ.get("JUPYTER_CONFIG_PATH")
    os.environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join([str(CONFIG), *([known] if known else [])])
    from jupyterlab.labapp import main

    main(lab_arguments(path, browser))


def missing_notebooks(folder: Path) -> list[str]:
    """Write each notebook that was not run yet, with the folder as its parameter, and return their names."""
    from papermill import execute_notebook

    target = folder / RESULTS / "notebooks"
    target.mkdir(parents=True, exist_ok=True)
    missing = {name: file for name, file in notebooks().items() if not (target / file.name).exists()}
    for file in missing.values():
        execute_notebook(str(file), str(target / file.name), {"folder": str(folder)}, prepare_only=True)
    return list(missing)


def lab_arguments(folder: Path, browser: bool = True) -> list[str]:
    """Return JupyterLab's arguments: this machine only, its own token, the folder as its root, the first notebook."""
    return [
        f"--ServerApp.root_dir={folder}",
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.log_level=WARN",
        "--LabApp.log_level=WARN",
        *(["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),  # as in a container
        *(["--ConnectionFileMixin.transport=ipc"] if sys.platform == "linux" else []),
        *([] if browser else ["--no-browser"]),
        f"--LabApp.default_url=/lab/tree/{RESULTS}/notebooks/{FIRST}.ipynb",
        "--ServerApp.answer_yes=True",  # Ctrl-C stops it at once
    ]
