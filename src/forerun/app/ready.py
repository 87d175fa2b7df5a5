"""Kernels are compiled once, with an announcement, by the first command that misses one."""

from __future__ import annotations

__all__ = ["kernels_ready"]


def kernels_ready() -> None:
    """See to it that kernels are compiled, all at once and with a progress bar, if one is missed.

    Costs nothing when they are there.
    """
    from forerun.numerics.compiled import when_missing

    when_missing(_prepare)


def _prepare() -> None:
    from forerun.app.prepare import prepare_kernels

    prepare_kernels()
