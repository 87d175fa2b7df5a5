"""What every command of the command line shares."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from forerun.app.output import Answer

__all__ = ["GATE_STOPS", "as_json_option", "show_answer"]

GATE_STOPS = 3
"""Exit code where a safety gate says stop."""

Command = TypeVar("Command", bound=Callable[..., Any])


def as_json_option(command: Command) -> Command:
    """Add the option that prints one JSON object."""
    help_text = "Print one JSON object in SI units instead of text."
    return click.option("--json", "as_json", is_flag=True, help=help_text)(command)


def show_answer(answer: Answer, as_json: bool, written: str | None = None) -> None:
    """Print an answer for a person or as JSON; nothing heavy is imported before."""
    from forerun.app.output import show

    show(answer, as_json=as_json, written=written)
