"""The run sheet in what was sent: a table, or the TOML text, or the sheet's own keys."""

from __future__ import annotations

from typing import Any

from forerun.sheets.model import RunSheet

__all__ = ["sheet_from"]

_SHEET_KEYS = ("title", "charge", "rig", "programme", "switch", "aim", "uncertain", "safety")


def sheet_from(body: dict[str, Any]) -> RunSheet:
    """Take the run sheet out of what was sent.

    Args:
        body: with a table or the TOML text under ``sheet``, or the sheet's own keys.

    Returns:
        The sheet; what is left in the body are the options.

    Raises:
        BadInput: whatever in the sheet cannot be used.
    """
    from forerun.app.sheet import with_kept_passport
    from forerun.sheets.reading import read_form, read_text
    from forerun.sheets.resolving import resolve

    if "sheet" not in body:
        form = read_form({key: body.pop(key) for key in _SHEET_KEYS if key in body})
        return with_kept_passport(resolve(form))
    given = body.pop("sheet")
    # a text is always TOML here, never the name of a file on this machine
    form = read_text(given) if isinstance(given, str) else read_form(given)
    return with_kept_passport(resolve(form))
