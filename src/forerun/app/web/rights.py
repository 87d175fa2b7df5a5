"""Who may ask what of a server that others reach; what does not stand here, nobody may."""

from __future__ import annotations

from collections.abc import Mapping

from forerun.app.web.passphrases import ROLES
from forerun.app.web.sessions import OWNER

__all__ = ["RIGHTS", "may"]

_READER, _BENCH, _INSTRUCTOR = ROLES
_RANKS = {role: rank for rank, role in enumerate((*ROLES, OWNER))}

RIGHTS: Mapping[str, str] = {
    "GET /{path:path}": _READER,
    "GET /api/health": _READER,
    "GET /api/openapi.json": _READER,
    "GET /api/examples": _READER,
    "GET /api/offered": _READER,
    "GET /api/kept": _READER,
    "POST /api/kept/open": _READER,
    "POST /api/look": _READER,
    "POST /api/mix": _READER,
    "POST /api/sheet": _READER,
    "GET /api/lessons": _READER,
    "GET /lesson/{name}": _READER,
    "GET /lesson/{name}/handout.pdf": _READER,
    "POST /api/foresee": _BENCH,
    "POST /api/advise": _BENCH,
    "POST /api/diagnose": _BENCH,
    "POST /api/review": _BENCH,
    "POST /api/record": _BENCH,
    "POST /api/lesson": _BENCH,
    "POST /api/kept/save": _BENCH,
    "POST /api/kept/duplicate": _BENCH,
    "GET /api/runs": _READER,
    "GET /api/runs/{id:int}": _READER,
    "GET /api/runs/{id:int}/live": _READER,
    "GET /api/runs/{id:int}/qr.svg": _READER,
    "GET /api/join/{code}": _READER,
    "GET /api/wall": _READER,
    "GET /api/wall/live": _READER,
    "GET /api/pooled": _READER,  # codes of benches alone, no titles
    "GET /api/pooled.csv": _READER,
    "POST /api/runs": _BENCH,
    "POST /api/runs/{id:int}/readings": _BENCH,
    "POST /api/runs/{id:int}/entries": _BENCH,
    "POST /api/runs/{id:int}/end": _BENCH,
    "GET /lesson/{name}/key.pdf": _INSTRUCTOR,
    "GET /lesson/{name}/folder.zip": _INSTRUCTOR,  # the key is in it
    "POST /api/kept/delete": _INSTRUCTOR,
    "POST /api/kept/restore": _INSTRUCTOR,
    "POST /api/pooled/take-out": _INSTRUCTOR,
    "POST /api/fit": _INSTRUCTOR,  # what is kept of it changes the forecasts of everybody
}
"""The least role by method and path of the route."""


def may(role: str, method: str, path: str) -> bool:
    """Return whether a role may ask this of the server.

    Args:
        role: of who asks; the owner may everything that there is.
        method: of HTTP, in capitals, or WEBSOCKET.
        path: of the route, with its parameters in braces.
    """
    if role == OWNER:
        return True
    least = RIGHTS.get(f"{'GET' if method == 'HEAD' else method} {path}")
    return least is not None and _RANKS.get(role, -1) >= _RANKS[least]
