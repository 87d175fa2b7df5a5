"""Whose live run is whose: who came in as a bench sees what it began or joined, and no other."""

from __future__ import annotations

import math

from starlette.requests import Request

from forerun.app.web.access import ASKER
from forerun.app.web.attempts import Attempts
from forerun.app.web.rights import BENCH
from forerun.app.web.sessions import Session
from forerun.core.errors import BadInput

__all__ = ["Benches", "NotYours", "own_runs"]

_FORBIDDEN, _TOO_OFTEN = 403, 429


class NotYours(BadInput):
    """A run that the asker may not see.

    Args:
        field: what was asked for.
        value: as it came.
        accepted: what would be accepted.
        wait_s: before the next attempt [s]; 0 where waiting is no help.
    """

    def __init__(self, field: str, value: object, accepted: str, wait_s: float = 0.0) -> None:
        super().__init__(field, value, accepted)
        self.status = _TOO_OFTEN if wait_s > 0.0 else _FORBIDDEN
        self.headers = {"Retry-After": str(math.ceil(wait_s))} if wait_s > 0.0 else {}


def own_runs(request: Request) -> set[int] | None:
    """Return the numbers of the runs that are the asker's own; None: the asker may see all.

    Args:
        request: that has passed `Access`.
    """
    bench = _bench(request)
    return None if bench is None else bench.runs


def _bench(request: Request) -> Session | None:
    """Return the session of who came in as a bench, None for everybody else."""
    session: Session | None = request.scope.get(ASKER)
    return session if session is not None and session.role == BENCH else None


class Benches:
    """Lets a bench into a run by its code, and keeps it out of those of others.

    Args:
        attempts: how often wrong codes were tried, by session.
    """

    def __init__(self, attempts: Attempts | None = None) -> None:
        self._attempts = attempts or Attempts()

    def must_be_own(self, request: Request, run_id: int) -> None:
        """Let nobody further who came in as a bench and asks for the run of another.

        Args:
            request: that has passed `Access`.
            run_id: number of the run, which need not exist.

        Raises:
            NotYours: it is another's, or is not there at all: which of the two is not said.
        """
        own = own_runs(request)
        if own is not None and run_id not in own:
            accepted = "a run that this bench began, or joined by its code"
            raise NotYours("run", run_id, accepted)

    def may_try(self, request: Request, code: str) -> None:
        """Count an attempt at a code, which is wrong until `take` says otherwise.

        Args:
            request: that has passed `Access`.
            code: as it was sent.

        Raises:
            NotYours: too many were wrong.
        """
        bench = _bench(request)
        if bench is not None and (left := self._attempts.wait(bench.name)) > 0.0:
            accepted = f"the code of your bench in {math.ceil(left)} s: too many were wrong"
            raise NotYours("code", code, accepted, left)

    def take(self, request: Request, run_id: int) -> None:
        """Make a run the asker's own, who has begun it or knows its code.

        Args:
            request: that has passed `Access`.
            run_id: number of the run.
        """
        bench = _bench(request)
        if bench is not None:
            self._attempts.right(bench.name)
            bench.runs.add(run_id)
