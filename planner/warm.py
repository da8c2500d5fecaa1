"""Kernels that start in a tenth of the time: each is a copy of one process that has imported everything already.

On Linux, `start` runs `python -m planner.warm`, which imports what notebooks need and then, for every line on its
standard input, forks one notebook's kernel. Every notebook still has a process of its own. Elsewhere, and whenever
anything here fails, notebooks run in ordinary kernels, which only takes longer.
"""

import contextlib
import gc
import importlib
import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from typing import Any

# What notebooks import. Nothing that starts a thread may stand here (vl_convert does): a copy has one thread only.
IMPORTS = (
    "ipykernel.kernelapp",
    "pandas",
    "altair",
    "scipy.optimize",
    "scipy.special",
    "highspy",
    "planner.files",
    "planner.sales",
    "planner.shelf",
    "planner.pace",
    "planner.season",
    "planner.restock",
    "planner.formula",
    "planner.weighout",
    "planner.losses",
    "planner.control",
    "planner.charts",
    "planner.flow",
    "planner.absent",
    "planner.summaries",
    "planner.sentences",
    "planner.tableview",
)


@dataclass(frozen=True)
class Warm:
    """The process that kernels are copied from, and the lock that lets one ask at a time."""

    process: "subprocess.Popen[str]"
    lock: Any = field(default_factory=threading.Lock)


@dataclass(frozen=True)
class Copy:
    """A kernel made by forking; the part of subprocess.Popen that jupyter_client uses."""

    pid: int
    stdin: None = None
    stdout: None = None
    stderr: None = None

    def poll(self) -> int | None:
        """Return None while it runs, else 0."""
        try:
            os.kill(self.pid, 0)
        except ProcessLookupError:
            return 0
        return None

    def wait(self) -> int:
        """Return at once: the process it was copied from collects it."""
        return 0

    def send_signal(self, number: int) -> None:
        """Send a signal; it may have ended already."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)


def start() -> Warm | None:
    """Start the process that kernels are copied from, or return None where that does not work."""
    if sys.platform != "linux":  # forking after imports is not safe on macOS and does not exist on Windows
        return None
    command = [sys.executable, "-m", "planner.warm"]
    try:
        return Warm(subprocess.Popen(command, stdin=-1, stdout=-1, text=True, start_new_session=True))
    except OSError:
        return None


def stop(warm: Warm | None) -> None:
    """End the process and, with it, every kernel copied from it."""
    if warm is None:
        return
    warm.process.terminate()
    warm.process.wait()
    for pipe in (warm.process.stdin, warm.process.stdout):
        with contextlib.suppress(OSError):
            pipe.close()  # type: ignore[union-attr]


def kernel_manager(warm: Warm) -> type:
    """Return the kernel manager class for papermill: it copies kernels where it can, else starts ordinary ones."""
    from jupyter_client.manager import AsyncKernelManager

    async def launch(manager: Any, command: list[str], **options: Any) -> None:
        try:
            pid = _ask(warm, command, options)
        except (OSError, ValueError, KeyError):
            await AsyncKernelManager._async_launch_kernel(manager, command, **options)
            return
        place = manager.provisioner
        place.process, place.pid, place.pgid, place.cwd = Copy(pid), pid, pid, options.get("cwd")

    methods = {"_async_launch_kernel": launch, "_launch_kernel": launch}
    return type("WarmKernelManager", (AsyncKernelManager,), methods)


def _ask(warm: Warm, command: list[str], options: dict[str, Any]) -> int:
    arguments = command[command.index("ipykernel_launcher") + 1 :]
    job = {"arguments": arguments, "cwd": str(options.get("cwd") or os.getcwd()), "env": dict(options["env"])}
    with warm.lock:
        assert warm.process.stdin is not None
        assert warm.process.stdout is not None
        print(json.dumps(job), file=warm.process.stdin, flush=True)
        return int(warm.process.stdout.readline())


def _serve() -> None:
    """Import, then fork one kernel for each line of standard input, until that ends."""
    for name in IMPORTS:
        with contextlib.suppress(Exception):  # a notebook that needs it will say what is wrong with it
            importlib.import_module(name)
    if threading.active_count() > 1:
        return
    kernels: set[int] = set()
    signal.signal(signal.SIGCHLD, lambda *_: _collect(kernels))
    signal.signal(signal.SIGTERM, lambda *_: _end(kernels))
    gc.collect()
    gc.freeze()  # so that the copies go on sharing this memory
    for line in sys.stdin:
        pid = os.fork()
        if not pid:
            _become_kernel(json.loads(line))
        kernels.add(pid)
        print(pid, flush=True)
    _end(kernels)


def _end(kernels: set[int]) -> None:
    for pid in tuple(kernels):  # those that end meanwhile are taken from it
        Copy(pid).kill()
    os._exit(0)


def _collect(kernels: set[int]) -> None:
    with contextlib.suppress(ChildProcessError):
        while pid := os.waitpid(-1, os.WNOHANG)[0]:
            kernels.discard(pid)


def _become_kernel(job: dict[str, Any]) -> None:
    try:
        for number in (signal.SIGCHLD, signal.SIGTERM):
            signal.signal(number, signal.SIG_DFL)
        os.setsid()
        os.chdir(job["cwd"])
        os.environ.clear()
        os.environ.update(job["env"])
        nothing = os.open(os.devnull, os.O_RDONLY)
        os.dup2(nothing, 0)
        os.dup2(2, 1)
        from ipykernel.kernelapp import IPKernelApp

        kernel = IPKernelApp.instance(parent_handle=os.getppid())
        kernel.initialize(job["arguments"])
        kernel.start()
    finally:
        os._exit(0)


if __name__ == "__main__":
    _serve()
