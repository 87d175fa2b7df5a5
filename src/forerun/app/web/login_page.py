"""All that a stranger sees: a form for a role and its pass-phrase, without a script."""

from __future__ import annotations

import base64
import hashlib
import html
import math

from starlette.responses import HTMLResponse

from forerun.app.web.passphrases import LONGEST, ROLES

__all__ = ["locked_page", "login_page"]

_STYLE = (
    "body{font:17px/1.5 system-ui,sans-serif;max-width:22rem;margin:12vh auto;padding:0 1rem;"
    "color:#1b1b1a;background:#fbfbf9}label,select,input,button{display:block;width:100%;"
    "font:inherit;box-sizing:border-box}select,input,button{margin:.2rem 0 1rem;padding:.6rem;"
    "min-height:44px}p{min-height:1.5em}"
    "@media(prefers-color-scheme:dark){body{color:#eee;background:#161616}}"
)
_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
_HEADERS = {
    "Content-Security-Policy": f"default-src 'none'; style-src 'sha256-{_HASH}'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'",
    "Referrer-Policy": "same-origin",  # else a browser would not say where the form comes from
    "Cache-Control": "no-store",
}
_LABELS = {"reader": "reader: look only", "bench": "bench: runs", "instructor": "instructor: all"}


def login_page(status: int = 401, said: str = "", wait: float = 0.0) -> HTMLResponse:
    """Return the form.

    Args:
        status: of HTTP.
        said: a sentence above the button, empty for none.
        wait: how long until the next attempt, 0 for none [s].
    """
    options = "".join(f'<option value="{role}">{_LABELS[role]}</option>' for role in ROLES[::-1])
    body = (
        '<form method="post" action="/login" autocomplete="off">'
        f'<label for="role">As</label><select id="role" name="role">{options}</select>'
        '<label for="phrase">Pass-phrase</label><input id="phrase" name="phrase" type="password" '
        f'required maxlength="{LONGEST}" autofocus autocomplete="current-password">'
        f'<p role="status">{html.escape(said)}</p><button>Come in</button></form>'
    )
    more = {"Retry-After": str(math.ceil(wait))} if wait > 0.0 else {}
    return _page("Who is there?", body, status, more)


def locked_page() -> HTMLResponse:
    """Return the page for another user of this machine."""
    sentence = (
        "This server belongs to another user of this machine, or to a browser that has not come "
        "by the address that <code>forerun serve</code> printed. Start it again for a new one."
    )
    return _page("Not yours", f"<p>{sentence}</p>", 401, {})


def _page(title: str, body: str, status: int, more: dict[str, str]) -> HTMLResponse:
    text = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>forerun</title>'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<style>{_STYLE}</style></head><body><main><h1>{title}</h1>{body}</main></body></html>"
    )
    return HTMLResponse(text, status, headers={**_HEADERS, **more})
