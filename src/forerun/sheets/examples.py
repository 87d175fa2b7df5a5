"""Ready run sheets of our own: invented, to start from."""

from __future__ import annotations

import difflib
from functools import cache
from importlib import resources

from forerun.core.errors import BadInput

__all__ = ["example", "example_names"]

_FOLDER = "examples"


@cache
def example_names() -> tuple[str, ...]:
    """Return the names of all examples, in alphabetical order."""
    folder = resources.files("forerun.sheets").joinpath(_FOLDER)
    return tuple(
        sorted(f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml"))
    )


def example(name: str) -> str:
    """Return the text of an example.

    Args:
        name: one of `example_names`.

    Raises:
        BadInput: no such example.
    """
    if name not in example_names():
        near = difflib.get_close_matches(name, example_names(), n=1, cutoff=0.5)
        start = f'did you mean "{near[0]}"? ' if near else ""
        raise BadInput("name", name, f"{start}an example: {', '.join(example_names())}")
    folder = resources.files("forerun.sheets").joinpath(_FOLDER)
    return folder.joinpath(f"{name}.toml").read_text("utf-8")
