"""Prints how long the main job takes on the example, beside the bare floor, and how much memory it needs.

The bare floor: papermill running as many notebooks that only import pandas, altair and pint, one after the other.
Run as a script; needs an environment with planner installed. Memory is read from /proc (Linux).
"""

import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from planner.packed import notebooks
from planner.starting import new_folder

FLOOR = """
import sys
from pathlib import Path
import nbformat, papermill
folder, count = Path(sys.argv[1]), int(sys.argv[2])
kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
cells = [nbformat.v4.new_code_cell("import pandas, altair, pint")]
nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=kernel), folder / "bare.ipynb")
quiet = ["--IPKernelApp.log_level=ERROR"]
for number in range(count):
    papermill.execute_notebook(
        folder / "bare.ipynb", folder / f"bare-{number}.ipynb", progress_bar=False, extra_arguments=quiet)
"""
PLANNER = [sys.executable, "-m", "planner.cli"]


def timed(command):
    """Return seconds, exit code and peak memory of the command with all its processes, shared pages split [MB]."""
    peaks = {"shared split": 0.0, "each full": 0.0}
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    watcher = threading.Thread(target=watch, args=(process, peaks))
    watcher.start()
    _, said = process.communicate()
    seconds = time.perf_counter() - began
    watcher.join()
    if process.returncode:
        print(said[-2000:])
    return seconds, process.returncode, peaks


def watch(process, peaks):
    while process.poll() is None:
        for name, field in (("shared split", "Pss:"), ("each full", "Rss:")):
            peaks[name] = max(peaks[name], sum(memory(pid, field) for pid in family(process.pid)))
        time.sleep(0.1)


def family(pid):
    """Return the process and all below it."""
    parents = {}
    for entry in filter(str.isdigit, os.listdir("/proc")):
        try:
            parents[int(entry)] = int(Path(f"/proc/{entry}/stat").read_text().rsplit(")", 1)[1].split()[1])
        except (OSError, IndexError):
            continue
    found = [pid]
    for member in found:
        found += [child for child, parent in parents.items() if parent == member]
    return found


def memory(pid, field):
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in lines if line.startswith(field)) / 1024


def main():
    """Measure all of it."""
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with tempfile.TemporaryDirectory() as place:
        shop = Path(place) / "example"
        new_folder(shop, example=True)
        timed([*PLANNER, "check", str(shop)])  # warms the disk
        check, _, _ = timed([*PLANNER, "check", str(shop)])
        job, code, peaks = timed([*PLANNER, "run", str(shop)])
        again, _, _ = timed([*PLANNER, "run", str(shop)])
        floor, _, _ = timed([sys.executable, "-c", FLOOR, place, str(len(notebooks()))])
        pages = sum(file.stat().st_size for file in (shop / "results").glob("*.html")) / 1e6
    print(f"notebooks            {len(notebooks())}")
    print(f"planner check        {check:6.2f} s   (bar 2, aim 1.5)")
    print(f"planner run          {job:6.2f} s   exit code {code}; again {again:.2f} s")
    print(f"bare floor           {floor:6.2f} s")
    print(f"run / floor          {job / floor:6.2f}     (bar 1.3, aim 0.9)")
    print(f"peak memory          {peaks['shared split']:6.0f} MB  (bar 700)")
    print(f"  shared pages counted for every process: {peaks['each full']:.0f} MB")
    print(f"pages                {pages:6.1f} MB")


if __name__ == "__main__":
    main()
