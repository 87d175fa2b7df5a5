"""A second process that compiles a part of the kernels while the first compiles the others.

    python -m forerun.app.prepare_beside forerun.equilibrium.kernels …

It prints the name of each kernel that is kept.  A process of its own, since the compiler holds the
lock of the one that it works in.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from threading import Thread

__all__ = ["compiling_beside", "main", "shared_out"]

_HEAVY = "forerun.still."  # what rests on the engine takes longest, and stays together


def shared_out(modules: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return the modules with kernels for this process, and those for one beside it.

    Args:
        modules: their names.

    Returns:
        Those for this one; none for the other where there is but one processor.
    """
    first = [name for name in modules if name.startswith(_HEAVY)]
    if _processors() < 2 or not first or len(first) == len(modules):
        return list(modules), []
    return first, [name for name in modules if not name.startswith(_HEAVY)]


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def compiling_beside(modules: Sequence[str], tell: Callable[[str], None]) -> Iterator[None]:
    """Compile the kernels of some modules in another process while the block runs, and wait.

    What it does not get done, for want of memory or because it cannot be started, is left to the
    caller: kernels that are not kept are compiled when they are asked for, errors and all.

    Args:
        modules: their names; none: nothing is started.
        tell: called with the name of each kernel when it is kept, from a thread of its own.
    """
    process = _started(modules)
    if process is None:
        yield
        return

    def listen() -> None:
        if process.stdout:
            with process.stdout as lines:
                for line in lines:
                    tell(line.strip())

    listener = Thread(target=listen, daemon=True)
    listener.start()
    try:
        yield
        listener.join()
    finally:
        process.kill()  # if this one was interrupted; otherwise it has ended
        process.wait()
        listener.join()


def _started(modules: Sequence[str]) -> subprocess.Popen[str] | None:
    if not modules or not sys.executable:
        return None
    command = [sys.executable, "-m", __name__, *modules]
    try:
        return subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, encoding="utf-8"
        )
    except OSError:
        return None


def main(modules: Sequence[str]) -> int:
    """Compile and keep the kernels of some modules, and no other; returns the exit code."""
    from forerun.numerics.compiled import compile_all, compiled_observers

    compiled_observers.append(lambda name: print(name, flush=True))
    for module in modules:
        import_module(module)
        compile_all(module)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
