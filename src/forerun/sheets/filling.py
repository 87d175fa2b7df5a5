"""Filling in what a sheet leaves out, and keeping a sentence about each."""

from __future__ import annotations

from dataclasses import dataclass, field

from forerun.core.quantities import Quantity
from forerun.glassware.drawer import Span, drawer_references
from forerun.sheets.model import Setting

__all__ = ["Filler", "drawer_origin"]


def drawer_origin(span: Span, what: str) -> str:
    """Return where a value of the drawer comes from.

    Args:
        span: the value.
        what: the item it belongs to.
    """
    reference = drawer_references()[span.source]
    return f"{what}, {reference.provenance}"


@dataclass(slots=True)
class Filler:
    """Collects defaults and warnings while a sheet is resolved.

    Args:
        defaults: sentences about values that the sheet left out.
        warnings: sentences to read before starting.
    """

    defaults: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def note(self, key: str, text: str, origin: str) -> None:
        """Remember that a key took a default.

        Args:
            key: as in the sheet, e.g. ``rig.flask``.
            text: the default as a person would write it.
            origin: why this one.
        """
        self.defaults.append(f"{key} = {text} ({origin})")

    def setting(
        self,
        key: str,
        given: Quantity | None,
        value: float,
        text: str,
        origin: str,
        sigma: float = 0.0,
    ) -> Setting:
        """Return what the sheet states, or the default with a note.

        Args:
            key: as in the sheet.
            given: what the sheet states, None when it states nothing.
            value: the default [SI].
            text: the default as a person would write it.
            origin: where the default comes from.
            sigma: one standard deviation of the default [SI].
        """
        if given is not None:
            return Setting(given.value, given.sigma, True, given.text)
        self.note(key, text, origin)
        return Setting(value, sigma, False, text, origin)
