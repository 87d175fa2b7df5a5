"""Who may ask what of a server that others reach; what does not stand here, nobody may."""

from __future__ import annotations

from collections.abc import Mapping

from forerun.app.web.passphrases import ROLES
from forerun.app.web.sessions import OWNER

__all__ = ["BENCH", "RIGHTS", "may"]

_READER, BENCH, _INSTRUCTOR = ROLES
_RANKS = {role: rank for rank, role in enumerate((*ROLES, OWNER))}

RIGHTS: Mapping[str, str] = {
    "GET /{path:path}": _READER,
    "GET /api/health": _READER,
    "GET /api/openapi.json": _READER,
    "GET /api/examples": _READER,
    "GET /api/offered": _READER,
    "GET /api/kept": _READER,
    "POST /api/kept/open": _READER,
    "GET /api/passports": _READER,
    "POST /api/passports/open": _READER,
    "POST /api/look": _READER,
    "POST /api/mix": _READER,
    "POST /api/sheet": _READER,
    "GET /api/lessons": _READER,
    "GET /lesson/{name}": _READER,
    "GET /lesson/{name}/handout.pdf": _READER,
    "POST /api/foresee": BENCH,
    "POST /api/advise": BENCH,
    "POST /api/diagnose": BENCH,
    "POST /api/calibrate": BENCH,
    "POST /api/review": BENCH,
    "POST /api/record": BENCH,
    "POST /api/lesson": BENCH,
    "POST /api/kept/save": BENCH,
    "POST /api/kept/duplicate": BENCH,
    "GET /api/runs": _READER,
    "GET /api/runs/{id:int}": _READER,
    "GET /api/runs/{id:int}/live": _READER,
    "GET /api/runs/{id:int}/qr.svg": _READER,
    "GET /api/join/{code}": _READER,
    "GET /api/wall": _READER,
    "GET /api/wall/live": _READER,
    "GET /api/pooled": _READER,  # codes of benches alone, no titles
    "GET /api/pooled.csv": _READER,
    "POST /api/runs": BENCH,
    "POST /api/runs/{id:int}/readings": BENCH,
    "POST /api/runs/{id:int}/entries": BENCH,
    "POST /api/runs/{id:int}/end": BENCH,
    "GET /lesson/{name}/key.pdf": _INSTRUCTOR,
    "GET /lesson/{name}/folder.zip": _INSTRUCTOR,  # the key is in it
    "POST /api/hidden/open": BENCH,  # by the ticket of a student, as the next two
    "POST /api/hidden/run": BENCH,
    "POST /api/hidden/hand-in": BENCH,
    "GET /api/hidden": _INSTRUCTOR,
    "POST /api/hidden/choices": _INSTRUCTOR,
    "POST /api/hidden/make": _INSTRUCTOR,
    "POST /api/hidden/class": _INSTRUCTOR,
    "POST /api/hidden/marks": _INSTRUCTOR,
    "POST /api/hidden/give": _INSTRUCTOR,
    "POST /api/hidden/slips": _INSTRUCTOR,
    "POST /api/hidden/folder": _INSTRUCTOR,  # the key is in it
    "POST /api/hidden/erase": _INSTRUCTOR,
    "POST /api/kept/delete": _INSTRUCTOR,
    "POST /api/kept/restore": _INSTRUCTOR,
    "POST /api/pooled/take-out": _INSTRUCTOR,
    "POST /api/pooled/erase": _INSTRUCTOR,
    "POST /api/review/keep": _INSTRUCTOR,  # what it shows changes the forecasts of everybody
    "POST /api/mark-runs": _INSTRUCTOR,
    "POST /api/fit": _INSTRUCTOR,  # what is kept of it changes the forecasts of everybody
}
"""The least role by method and path of the route."""
_OF_ALL = frozenset({"GET /api/pooled", "GET /api/pooled.csv"})
"""What shows the runs of all, which a bench may not see: a reader may, and an instructor."""


def may(role: str, method: str, path: str) -> bool:
    """Return whether a role may ask this of the server.

    Args:
        role: of who asks; the owner may everything that there is.
        method: of HTTP, in capitals, or WEBSOCKET.
        path: of the route, with its parameters in braces.
    """
    if role == OWNER:
        return True
    asked = f"{'GET' if method == 'HEAD' else method} {path}"
    if role == BENCH and asked in _OF_ALL:
        return False
    least = RIGHTS.get(asked)
    return least is not None and _RANKS.get(role, -1) >= _RANKS[least]
