"""Make the program ready to start fast: `python -m forerun.app.prepare`.

Writes the bytecode of the package, then compiles the numerical kernels. Silent when there is
nothing to do; otherwise a progress bar says what takes the time.
"""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path

from forerun.numerics.cache import (
    cache_folder,
    is_complete,
    kernel_files,
    mark_complete,
    why_not_kept,
)

__all__ = ["main", "prepare_bytecode", "prepare_kernels"]

_PACKAGE = Path(__file__).resolve().parents[1]
# measured on a server with two cores: by one process, by two; only for the announcement
_SECONDS_PER_KERNEL, _BESIDE = 1.7, 1.2


def prepare_kernels() -> int:
    """Compile and keep every kernel of the package that is not kept yet.

    Returns:
        How many kernels were made ready; 0 when all were there, or when nothing can be kept.
    """
    from forerun.numerics.loading import machine_digest

    machine = machine_digest()
    if is_complete(machine):
        return 0
    if reason := why_not_kept():
        print(
            f"compiled kernels cannot be kept in {cache_folder()} ({reason.lower()}), so each "
            "command compiles what it needs; set FORERUN_CACHE to a folder that can be written",
            file=sys.stderr,
        )
        return 0
    modules = {_module_name(path): _kernel_count(path) for path in kernel_files()}
    ready = _compile_with_progress(modules)
    mark_complete(machine)
    return ready


def prepare_bytecode(package: Path = _PACKAGE) -> bool:
    """Write the bytecode of the package beside it, which Python may have been told not to do.

    Args:
        package: folder of the package.

    Returns:
        Whether all of it is there; not so where the folder cannot be written.
    """
    from compileall import compile_dir

    return bool(compile_dir(package, quiet=2))


def main() -> int:
    """Run the preparation as a command; returns the exit code."""
    prepare_bytecode()
    prepare_kernels()
    return 0


def _module_name(path: Path) -> str:
    return ".".join(("forerun", *path.relative_to(_PACKAGE).with_suffix("").parts))


def _kernel_count(path: Path) -> int:
    lines = path.read_text(encoding="utf-8").splitlines()
    return sum(line.startswith("@" + "kernel") for line in lines)


def _compile_with_progress(modules: dict[str, int]) -> int:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    from forerun.app.prepare_beside import compiling_beside, shared_out
    from forerun.numerics.compiled import compile_all, compiled_observers, left_to_numba

    total = sum(modules.values())
    console = Console(stderr=True)
    own, beside = shared_out(tuple(modules))
    about = max(1, round(total * (_BESIDE if beside else _SECONDS_PER_KERNEL)))
    text = f"compiling the numerical kernels, once (about {about} s)"
    if not console.is_terminal:  # a log shows no bar, so the sentence stands alone
        console.print(text)
    ready: set[str] = set()
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(bar_width=20),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=console,
        disable=not console.is_terminal,
        transient=False,
    ) as progress:
        task = progress.add_task(text, total=total)

        def advance(name: str) -> None:
            ready.add(name)
            progress.update(task, completed=len(ready))

        compiled_observers.append(advance)
        try:
            with compiling_beside(beside, advance):
                for module in own:
                    import_module(module)
                    compile_all(module)
            for module in modules:  # what is kept by now is only read
                import_module(module)
                compile_all()
        finally:
            compiled_observers.remove(advance)
    if left_to_numba:
        names = ", ".join(sorted(left_to_numba))
        console.print(f"these kernels need numba at each start: {names}", highlight=False)
    return len(ready)


if __name__ == "__main__":
    sys.exit(main())
