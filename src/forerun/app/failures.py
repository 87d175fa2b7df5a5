"""What went wrong, in one sentence and an exit code; never a traceback."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence

import click

from forerun.core.errors import BadInput, CalculationFailed, ForerunError, NotCovered

__all__ = ["reported"]

OWN_FAILURE, BAD_INPUT, STOPPED = 1, 2, 130


def reported(problem: BaseException, words: Sequence[str]) -> int:
    """Say what went wrong on stderr, and as JSON on stdout when JSON was asked for.

    Args:
        problem: what was raised.
        words: the command line, to know whether JSON was asked for.

    Returns:
        The exit code.
    """
    if isinstance(problem, SystemExit):
        return problem.code if isinstance(problem.code, int) else OWN_FAILURE
    if isinstance(problem, BrokenPipeError):
        _close_quietly()
        return 0
    if isinstance(problem, KeyboardInterrupt | click.Abort):
        _say("stopped")
        return STOPPED
    code, sentence, details = _told(problem)
    _say(sentence)
    if "--json" in words:
        print(json.dumps({"error": {**details, "message": sentence}}))
    return code


def _told(problem: BaseException) -> tuple[int, str, dict[str, str]]:
    """Return the exit code, the sentence and the parts of it."""
    if isinstance(problem, BadInput):
        return BAD_INPUT, str(problem), _parts(problem.field, str(problem.value), problem.accepted)
    if isinstance(problem, NotCovered):
        return BAD_INPUT, str(problem), _parts(problem.what, "", problem.advice)
    if isinstance(problem, CalculationFailed | ForerunError):
        return OWN_FAILURE, str(problem), {}
    if isinstance(problem, click.ClickException):
        return _command_line(problem)
    return OWN_FAILURE, _unexpected(problem), {}


def _parts(field: str, value: str, accepted: str) -> dict[str, str]:
    return {"field": field, "value": value[:200], "accepted": accepted}


def _command_line(problem: click.ClickException) -> tuple[int, str, dict[str, str]]:
    context = getattr(problem, "ctx", None)
    command = context.command_path if context is not None else "forerun"
    message = " ".join(problem.format_message().split()).rstrip(".")
    accepted = f"what `{command} --help` lists"
    if context is not None and isinstance(context.command, click.Group):
        accepted = ", ".join(context.command.list_commands(context))
    told = f"{message[0].lower()}{message[1:]}".replace(". Did you mean", ": did you mean")
    joint = " Accepted:" if told.endswith("?") else "; accepted:"
    sentence = f"{command}: {told}{joint} {accepted}."
    return BAD_INPUT, sentence, _parts(command, message, accepted)


def _unexpected(problem: BaseException) -> str:
    first = next(iter(str(problem).splitlines()), "")
    what = f"{type(problem).__name__}: {first}" if first else type(problem).__name__
    return (
        f"forerun itself failed ({what[:200]}); please report it to the project's issue list with "
        "the command you typed, and with the output of the same command after setting "
        "FORERUN_DEBUG=1."
    )


def _say(sentence: str) -> None:
    try:
        from forerun.reporting.paper import paper_for

        print(paper_for(sys.stderr).spelled(sentence), file=sys.stderr)
    except BrokenPipeError:
        _close_quietly()


def _close_quietly() -> None:
    """Point stdout at nothing, so that the interpreter does not complain when it flushes."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
