"""What every database of runs does alike: one pen, acts together, reading."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from types import TracebackType
from typing import Any, ClassVar, Self

from forerun.core.errors import NotStored
from forerun.records.interface import Outcome

__all__ = ["SqlDatabase"]


class SqlDatabase(ABC):
    """An open database and the only pen that writes in it."""

    _no_such_row: ClassVar[tuple[type[Exception], ...]]  # what an insert raises that refers to none

    @abstractmethod
    def _writing(self) -> AbstractContextManager[None]:
        """Hold the only pen; what was written is on disk when the outermost holder puts it down."""

    @abstractmethod
    def _do(self, statement: str, values: Sequence[object]) -> None:
        """Write, while the pen is held."""

    @abstractmethod
    def _all(self, statement: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        """Return the rows that a question has for an answer."""

    @abstractmethod
    def _let_go(self, tables: Sequence[str]) -> AbstractContextManager[None]:
        """Let rows of tables be changed and deleted meanwhile; the pen is held."""

    @abstractmethod
    def scrub(self) -> bool:
        """Write over what was erased; return whether it is gone from the files by now."""

    @abstractmethod
    def close(self) -> None:
        """Let go of the database."""

    def together(self, acts: Sequence[Callable[[], object]]) -> tuple[Outcome, ...]:
        """Do several acts and wait for the disk once; one that fails does not undo the others.

        Args:
            acts: each writes by the other methods of this store.

        Returns:
            What became of each, in order, after all is on disk.

        Raises:
            NotStored: the disk took none of it.
        """
        with self._writing():
            return tuple(self._outcome(act) for act in acts)

    def _outcome(self, act: Callable[[], object]) -> Outcome:
        try:
            with self._writing():
                return Outcome(act())
        except NotStored:
            raise  # the file or the disk is at fault, not the act
        except Exception as problem:  # whoever asked for the act is told
            return Outcome(problem=problem)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
