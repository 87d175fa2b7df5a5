"""The same sheet with another rig, pressure or switch: what a comparison of plans needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from forerun.core.errors import BadInput
from forerun.sheets.form import (
    AimForm,
    ChargeForm,
    Form,
    ProgrammeForm,
    RigForm,
    SheetForm,
    SwitchForm,
)
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import resolve

__all__ = ["form_of", "recharged", "rig_is_given", "variant"]


def form_of(sheet: RunSheet) -> SheetForm:
    """Return the checked form that a sheet came from.

    Args:
        sheet: from `forerun.sheets.resolving.load`.

    Raises:
        BadInput: the sheet was not read but put together by hand.
    """
    if not isinstance(sheet.written, SheetForm):
        raise BadInput("sheet", sheet.title, "a sheet that was read by `forerun.load`")
    return sheet.written


def rig_is_given(sheet: RunSheet) -> bool:
    """Return whether the sheet names any glass at all.

    Args:
        sheet: the sheet.
    """
    glass = {"flask", "column", "plates", "condenser", "bath", "holdup"}
    return bool(form_of(sheet).rig.model_fields_set & glass)


def variant(
    sheet: RunSheet,
    *,
    rig: Mapping[str, Any] | None = None,
    programme: Mapping[str, Any] | None = None,
    switches: Sequence[Mapping[str, Any]] | None = None,
    aim: Mapping[str, Any] | None = None,
) -> RunSheet:
    """Return a sheet in which some keys have other values.

    Args:
        sheet: the sheet to start from.
        rig: keys of ``[rig]`` as they are written; None takes a key out.
        programme: the same of ``[programme]``.
        switches: all switches in order; None keeps those of the sheet.
        aim: keys of ``[aim]``.

    Returns:
        The other sheet, read and filled in like any.

    Raises:
        BadInput: a value that cannot be used.
    """
    form = form_of(sheet)
    changed: dict[str, Any] = {}
    if rig:
        changed["rig"] = _merged(form.rig, RigForm, rig)
    if programme:
        changed["programme"] = _merged(form.programme, ProgrammeForm, programme)
    if aim:
        changed["aim"] = _merged(form.aim, AimForm, aim)
    if switches is not None:
        changed["switch"] = [SwitchForm.model_validate(dict(s)) for s in switches]
    return resolve(form.model_copy(update=changed))


def recharged(
    sheet: RunSheet, volumes_m3: Iterable[float], names: Iterable[str] | None = None
) -> RunSheet:
    """Return a sheet with other amounts in the flask.

    Args:
        sheet: the sheet to start from.
        volumes_m3: of each component [m3].
        names: other substances; None keeps those of the sheet.

    Raises:
        BadInput: an amount or a substance that cannot be used.
    """
    charge = [
        ChargeForm.model_validate({"substance": name, "amount": f"{1e6 * volume:.9g} mL"})
        for name, volume in zip(names or sheet.names, volumes_m3, strict=True)
    ]
    return resolve(form_of(sheet).model_copy(update={"charge": charge}))


def _merged(old: Form, kind: type[Form], keys: Mapping[str, Any]) -> Form:
    given = kind.model_validate({k: v for k, v in keys.items() if v is not None})
    update = {k: getattr(given, k) if v is not None else None for k, v in keys.items()}
    merged = old.model_copy(update=update)
    gone = {k for k, v in keys.items() if v is None}
    merged.model_fields_set.difference_update(gone)
    return merged
