"""Kernels are compiled once, with an announcement, before the first command that needs them."""

from __future__ import annotations

__all__ = ["kernels_ready"]


def kernels_ready() -> None:
    """Compile the numerical kernels now if that has not been done, with a progress bar."""
    from forerun.app.prepare import prepare_kernels

    prepare_kernels()
