"""One thread that writes for all: what many ask at once goes to disk in one commit."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, TypeVar

from forerun.records.interface import Outcome, RunStore

__all__ = ["GroupWriter"]

T = TypeVar("T")

_MOST = 500  # acts of one commit


@dataclass(frozen=True, slots=True)
class _Task:
    act: Callable[[], Any]
    then: Callable[[Any], None] | None
    done: Future[Any]


class GroupWriter:
    """Does what it is asked in order, and answers only after it is on disk.

    Args:
        store: nobody else should write to it from this process.
    """

    def __init__(self, store: RunStore) -> None:
        self._store = store
        self._tasks: queue.SimpleQueue[_Task | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._work, name="writer", daemon=True)
        self._thread.start()

    def submit(self, act: Callable[[], T], then: Callable[[T], None] | None = None) -> Future[T]:
        """Ask for an act.

        Args:
            act: writes by the store's methods and returns what they return.
            then: called with that in this thread, in order, after it is on disk and before the
                answer.

        Returns:
            What holds the act's result, or what it raised, once the disk has it.
        """
        done: Future[T] = Future()
        self._tasks.put(_Task(act, then, done))
        return done

    def close(self) -> None:
        """Finish what was asked for, then stop."""
        self._tasks.put(None)
        self._thread.join()

    def _work(self) -> None:
        going = True
        while going:
            group = [self._tasks.get()]
            while len(group) < _MOST and not self._tasks.empty():
                group.append(self._tasks.get())
            going = None not in group
            self._carry_out([task for task in group if task is not None])

    def _carry_out(self, tasks: list[_Task]) -> None:
        if not tasks:
            return
        try:
            outcomes = self._store.together([task.act for task in tasks])
        except Exception as problem:  # each who asked is told
            outcomes = (Outcome(problem=problem),) * len(tasks)
        for task, outcome in zip(tasks, outcomes, strict=True):
            _answer(task, outcome)


def _answer(task: _Task, outcome: Outcome) -> None:
    if outcome.problem is not None:
        task.done.set_exception(outcome.problem)
        return
    try:
        if task.then is not None:
            task.then(outcome.value)
    except Exception as problem:  # it is on disk; whoever asked learns that we failed after that
        task.done.set_exception(problem)
        return
    task.done.set_result(outcome.value)
