"""The files of the page: read once, kept compressed, sent with a mark of their content."""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

__all__ = ["Page", "PageFile", "page_files"]

_FOLDER = "built"
_START = "index.html"
_KINDS = {".js": "text/javascript", ".webmanifest": "application/manifest+json"}
_ALSO = {"favicon.ico": "drop.svg"}  # browsers ask for it beside a page that names no picture
_KEPT_FOR_A_YEAR = "public, max-age=31536000, immutable"


@dataclass(frozen=True, slots=True)
class PageFile:
    """One file as it is sent.

    Args:
        kind: its media type.
        plain: its bytes.
        packed: the same, compressed.
        mark: a digest of it.
    """

    kind: str
    plain: bytes
    packed: bytes
    mark: str


@cache
def page_files() -> dict[str, PageFile]:
    """Return every file of the page by its path."""
    folder = resources.files("forerun.app.web").joinpath(_FOLDER)
    return {path: _read(path, file) for path, file in _walk(folder, "")}


def _walk(folder: Traversable, above: str) -> list[tuple[str, Traversable]]:
    found = []
    for entry in folder.iterdir():
        path = f"{above}{entry.name}"
        found += _walk(entry, f"{path}/") if entry.is_dir() else [(path, entry)]
    return found


def _read(path: str, file: Traversable) -> PageFile:
    plain = file.read_bytes()
    ending = f".{path.rpartition('.')[2]}"
    kind = _KINDS.get(ending) or mimetypes.guess_type(path)[0] or "application/octet-stream"
    if kind.startswith("text/"):
        kind += "; charset=utf-8"
    packed = gzip.compress(plain, 9, mtime=0)
    return PageFile(kind, plain, packed, hashlib.sha256(plain).hexdigest()[:16])


class Page:
    """Answers requests for the page's files."""

    def answer(self, request: Request) -> Response:
        """Return a file, or nothing but its mark when the browser has it already.

        Raises:
            HTTPException: there is no such file.
        """
        path = request.path_params["path"] or _START
        file = page_files().get(_ALSO.get(path, path))
        if file is None:
            raise HTTPException(404)
        headers = {
            "ETag": f'"{file.mark}"',
            "Cache-Control": _KEPT_FOR_A_YEAR if path.startswith("parts/") else "no-cache",
            "Vary": "Accept-Encoding",
        }
        if request.headers.get("if-none-match") == headers["ETag"]:
            return Response(status_code=304, headers=headers)
        if "gzip" in request.headers.get("accept-encoding", ""):
            headers["Content-Encoding"] = "gzip"
            return Response(file.packed, media_type=file.kind, headers=headers)
        return Response(file.plain, media_type=file.kind, headers=headers)
