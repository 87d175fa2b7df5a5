"""What is sent to a run and what comes back: names of sendings, answers once they are on disk."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, TypeVar

from forerun.core.errors import BadInput
from forerun.records.interface import Kept, Sent

__all__ = ["Stored", "Told", "passed_on", "sent_as"]

T = TypeVar("T")
U = TypeVar("U")

_LONGEST_NAME = 64  # characters of an origin or a sequence


@dataclass(frozen=True, slots=True)
class Stored:
    """What became of readings that were sent.

    Args:
        kept: where they are.
        flags: what is odd about each, by number; only those with something odd.
    """

    kept: Kept
    flags: dict[int, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Told:
    """What is reckoned from the readings, as it is sent.

    Args:
        estimate: where the run stands, None while nothing was reckoned.
        instruction: what to do.
        findings: what is odd, and why.
        version: goes up with each change.
    """

    estimate: dict[str, Any] | None = None
    instruction: dict[str, Any] | None = None
    findings: tuple[dict[str, Any], ...] = ()
    version: int = 0


def sent_as(origin: object, sequence: object, content: object) -> tuple[str, Sent | None]:
    """Return who sends, and by what a sending is known.

    Args:
        origin: the sender's name; ``typed`` where none is given.
        sequence: a number or text that the sender gives each sending; None where it never
            sends again.
        content: what is sent.

    Raises:
        BadInput: an origin or a sequence that is no name.
    """
    name = "typed" if origin is None else origin
    if not isinstance(name, str) or not 0 < len(name) <= _LONGEST_NAME or not name.isprintable():
        raise BadInput("origin", name, f"a name of at most {_LONGEST_NAME} characters")
    if sequence is None:
        return name, None
    if isinstance(sequence, bool) or not isinstance(sequence, int | str):
        raise BadInput("sequence", sequence, "a whole number or a text")
    text = str(sequence)
    if not 0 < len(text) <= _LONGEST_NAME or not text.isprintable():
        raise BadInput("sequence", text, f"at most {_LONGEST_NAME} characters")
    whole = json.dumps(content, sort_keys=True, ensure_ascii=True)
    return name, Sent(name, text, hashlib.sha256(whole.encode()).hexdigest()[:16])


def passed_on(
    asked: Future[T],
    turned: Callable[[T], U],
    failed: Callable[[BaseException], None] = lambda _problem: None,
) -> Future[U]:
    """Return a future with what another one's result is turned into.

    Args:
        asked: the other one.
        turned: makes the answer of its result.
        failed: is told what it raised instead.
    """
    told: Future[U] = Future()

    def answer(done: Future[T]) -> None:
        problem = done.exception()
        try:
            if problem is None:
                told.set_result(turned(done.result()))
                return
            failed(problem)
        except Exception as trouble:  # whoever asked must not wait for ever
            problem = trouble
        told.set_exception(problem)

    asked.add_done_callback(answer)
    return told
