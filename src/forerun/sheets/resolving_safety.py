"""What a sheet says for the safety gates, in plain words and numbers."""

from __future__ import annotations

import difflib

from forerun.core.errors import BadInput
from forerun.sheets.form import SafetyForm
from forerun.sheets.model import Safety

__all__ = ["GATE_NAMES", "resolve_safety"]

GATE_NAMES = (
    "vent_path",
    "solid_plug",
    "peroxides",
    "dryness",
    "energetic",
    "azide",
    "bath",
    "vacuum_glass",
    "order",
    "hot_liquid",
    "warm_room",
    "toxic_vapour",
    "scale",
)
"""The safety gates by name, in the order in which they are asked."""

_CHOICES = {
    "vent": ("open", "bubbler", "drying tube", "inert gas", "pump", "closed"),
    "glass": ("checked", "starred", "flat"),
    "boiling_aid": ("stirrer", "chips", "none"),
}
_AZIDE = "azide"


def resolve_safety(form: SafetyForm, title: str) -> Safety:
    """Return what a sheet says for the gates.

    Args:
        form: as written.
        title: of the sheet; one that names an azide counts as having met it.

    Raises:
        BadInput: a word that is none of those accepted, or a gate that does not exist.
    """
    met = list(form.met)
    if _AZIDE in title.casefold() and not any(_AZIDE in word.casefold() for word in met):
        met.append(f'azide (the title, "{title}")')
    return Safety(
        vent=_chosen(form.vent, "vent"),
        peroxide_mg_L=form.peroxide_test.value if form.peroxide_test else None,
        peroxide_text=form.peroxide_test.text if form.peroxide_test else "",
        peroxide_test_date=form.peroxide_test_date,
        peroxide_limit_mg_L=form.peroxide_limit.value if form.peroxide_limit else None,
        opened=form.opened,
        inhibitor=form.inhibitor or "",
        met=tuple(met),
        involatile=form.involatile,
        decomposition_K=form.decomposition.value if form.decomposition else None,
        oil_flash_K=form.oil_flash.value if form.oil_flash else None,
        glass=_chosen(form.glass, "glass"),
        shield=form.shield,
        gas=form.gas or "",
        boiling_aid=_chosen(form.boiling_aid, "boiling_aid"),
        trap_mol=form.trap.value if form.trap else None,
        scale_limit_m3=form.scale_limit.value if form.scale_limit else None,
        first_run=form.first_run,
        attended=form.attended,
        overrides=tuple((_gate(o.gate, n), o.reason) for n, o in enumerate(form.override, 1)),
    )


def _chosen(text: str | None, key: str) -> str:
    if text is None:
        return ""
    plain = " ".join(text.split()).casefold().replace("_", " ")
    if plain not in _CHOICES[key]:
        raise BadInput(f"safety.{key}", text, f"one of {', '.join(_CHOICES[key])}")
    return plain


def _gate(text: str, number: int) -> str:
    plain = "_".join(text.replace("_", " ").split()).casefold()
    if plain not in GATE_NAMES:
        near = difflib.get_close_matches(plain, GATE_NAMES, n=1)
        start = f'did you mean "{near[0]}"? ' if near else ""
        accepted = f"{start}a gate: {', '.join(GATE_NAMES)}"
        raise BadInput(f"safety.override[{number}].gate", text, accepted)
    return plain
