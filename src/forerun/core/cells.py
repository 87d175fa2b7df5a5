"""Cells of tables for other programs: what a spreadsheet would run is made plain text."""

from __future__ import annotations

import math

__all__ = ["harmless"]

# also the wide forms, which a spreadsheet set to Chinese or Japanese takes for the same
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def harmless(cell: object) -> object:
    """Return a cell as it may be written into CSV.

    Args:
        cell: numbers stay as they are, what is no number becomes empty, and a text that begins
            as a formula does gets an apostrophe.
    """
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if isinstance(cell, str) and cell.lstrip(" \u00a0\u3000\x00").startswith(_FORMULA):
        return f"'{cell}"
    return cell
