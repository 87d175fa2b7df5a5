"""Gates that look at what is in the flask: peroxides, energetic groups, azides, toxic vapour."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from forerun.core.quantities import format_amount, format_number, format_temperature
from forerun.planning.gates_model import Gate, GateCase, State, Verdict
from forerun.substances.correlations import boiling_temperature
from forerun.substances.model import Substance

__all__ = ["azide", "energetic", "peroxides", "toxic_vapour", "warm_room"]

_TEST_HOLDS_DAYS = 3  # peroxides can come back in uninhibited material within three days
_DISCARD_MG_L = 100.0  # published discard level, ppm taken as mg/L
_BOTTLE_DAYS = {"A": 90, "B": 180, "C": 180}  # shortest published storage times
_EPOXIDE = "epoxide"  # strained, yet not on the list of groups that explode
_FEW_CARBONS = 3.0  # (C + O)/N below which a nitrogen-rich compound is not handled pure
_WARM = 15.0  # K between room and boiling point
_WHOLE = 5.0  # K, for temperatures without decimals

_ACID_WORDS = ("acid", "hcl", "h2so4", "hbr", "tfa", "acidic", "acidified")
_ACYL_HALIDE = re.compile(
    r"C\(=O\)(Cl|Br|I)|O=C\((Cl|Br|I)\)|S\(=O\)(\(=O\))?\(?(Cl|Br)|(Cl|Br)S\(=O\)|P\(?(Cl|Br)"
    r"|(Cl|Br)P|\[Si\].*Cl|Cl\[Si"
)
# Liquids whose vapour is fatal or toxic when breathed in (hazard statements H330 and H331), by
# CAS number; from memory, and by no means all.
_TOXIC = {
    "107-02-8": "acrolein",
    "107-13-1": "acrylonitrile",
    "107-18-6": "allyl alcohol",
    "107-05-1": "allyl chloride",
    "106-89-8": "epichlorohydrin",
    "302-01-2": "hydrazine",
    "77-78-1": "dimethyl sulfate",
    "106-93-4": "1,2-dibromoethane",
    "62-53-3": "aniline",
    "67-66-3": "chloroform",
    "56-23-5": "carbon tetrachloride",
    "75-21-8": "ethylene oxide",
    "100-44-7": "benzyl chloride",
    "98-07-7": "benzotrichloride",
    "126-98-7": "methacrylonitrile",
    "107-11-9": "allylamine",
    "75-15-0": "carbon disulfide",
}


def peroxides(case: GateCase) -> Gate:
    """Return whether peroxides have been ruled out, by class, age, inhibitor and test.

    Args:
        case: what the gates look at.
    """
    formers = [s for s in case.substances if s.peroxide_class is not None]
    suspects = [s for s in case.substances if s.peroxide_class is None and s.peroxide_signs]
    safety = case.sheet.safety
    age = _days(case, safety.opened)
    tested = _days(case, safety.peroxide_test_date)
    classes = ", ".join(
        f"{s.name} (class {c})" for s, c in zip(formers, _classes(formers), strict=True)
    )
    signs = ", ".join(f"{s.name} ({', '.join(s.peroxide_signs)})" for s in suspects)
    if formers or (suspects and safety.peroxide_mg_L is not None):
        found = _peroxide_verdict(case, classes or signs, tested)
    elif suspects:
        words = (
            f"{signs}: on no list that was read, but of a kind that takes up oxygen; test it "
            "before heating."
        )
        found = Verdict("warn", words, "safety.peroxide_test")
    else:
        found = Verdict(
            "pass",
            "No component is on the lists of peroxide formers that were read, and none has a "
            "part that takes up oxygen.",
        )
    oldest = min((_BOTTLE_DAYS[c] for c in _classes(formers)), default=None)
    if age is not None and oldest is not None and age > oldest:
        words = (
            f"{found.says} The bottle was opened {age} days ago, past the {oldest} days of the "
            "strictest list."
        )
        found = Verdict("warn" if found.state == "pass" else found.state, words, found.settle)
    return Gate(
        "peroxides",
        found.state,
        found.says,
        {
            "classes": classes,
            "signs": signs,
            "result_mg_L": safety.peroxide_mg_L,
            "test_age_s": None if tested is None else 86400.0 * tested,
            "bottle_age_s": None if age is None else 86400.0 * age,
            "inhibitor": safety.inhibitor,
        },
        "test before heating; anything found is removed first; discard from 100 ppm on; a result "
        "holds three days where nothing inhibits",
        ("prudent2011", "iowastate", "peroxide_lists"),
        found.settle,
    )


def _classes(formers: Sequence[Substance]) -> list[str]:
    return [s.peroxide_class.value for s in formers if s.peroxide_class is not None]


def _peroxide_verdict(case: GateCase, names: str, tested: int | None) -> Verdict:
    """Return what the test says, or why it cannot count."""
    safety = case.sheet.safety
    if safety.peroxide_mg_L is None:
        words = f"{names}: no peroxide test is stated; do not heat it."
        return Verdict("stop", words, "safety.peroxide_test")
    if tested is None:
        words = f"{names}: the test ({safety.peroxide_text}) has no date; it cannot count."
        return Verdict("stop", words, "safety.peroxide_test_date")
    if not 0 <= tested <= _TEST_HOLDS_DAYS:
        words = (
            f"{names}: the test is {tested} days old, a result holds {_TEST_HOLDS_DAYS} days; "
            "test again."
        )
        return Verdict("stop", words, "safety.peroxide_test_date")
    return _peroxide_result(names, safety.peroxide_mg_L, safety.peroxide_limit_mg_L or 0.0, tested)


def _peroxide_result(names: str, found: float, limit: float, tested: int) -> Verdict:
    if found >= _DISCARD_MG_L:
        words = (
            f"{names}: {found:g} mg/L of peroxide, at or above the discard level of "
            f"{_DISCARD_MG_L:g} mg/L; leave it alone and call your safety office."
        )
        return Verdict("stop", words)
    if found > limit:
        words = f"{names}: {found:g} mg/L of peroxide; remove it and test again before heating."
        return Verdict("stop", words, "safety.peroxide_test")
    if found > 0.0:
        words = (
            f"{names}: {found:g} mg/L found, within your local limit of {limit:g} mg/L; "
            "published guidance asks to remove any."
        )
        return Verdict("warn", words)
    words = f"{names}: none found {tested} days ago; leave a fifth of the charge in the pot."
    return Verdict("pass", words)


def _days(case: GateCase, day: date | None) -> int | None:
    return None if day is None else (case.today - day).days


def energetic(case: GateCase) -> Gate:
    """Return whether a component carries a group that can explode.

    Args:
        case: what the gates look at.
    """
    carriers = [s for s in case.substances if s.energetic_groups]
    ratios = {s.name: _carbon_ratio(s) for s in carriers}
    known = [r for r in ratios.values() if r is not None]
    lowest = min(known, default=None)
    state: State = "pass"
    only_strained = all(set(s.energetic_groups) == {_EPOXIDE} for s in carriers)
    names = "; ".join(f"{s.name} ({', '.join(s.energetic_groups)})" for s in carriers)
    if not carriers:
        says = (
            "No component carries one of the groups that were looked for in its structure "
            "(azide, diazo, nitro, nitrate ester, peroxide, N-oxide, perchlorate, acetylide, "
            "hydrazine, epoxide)."
        )
    elif only_strained:
        state = "warn"
        says = (
            f"{names}: a strained ring that can react with itself when acid, base or metal salts "
            "are about; keep the bath low."
        )
    else:
        state = "stop"
        says = (
            f"{names} can decompose violently; do not heat it before someone who knows it has "
            "agreed."
        )
        if lowest is not None and lowest < _FEW_CARBONS:
            says += f" (C + O)/N is {lowest:.2g}, below {_FEW_CARBONS:g}."
    return Gate(
        "energetic",
        state,
        says,
        {"groups": names, "carbon_and_oxygen_per_nitrogen": lowest},
        "groups that explode are not heated without an expert; (C + O)/N of at least 3",
        ("prudent2011", "practice"),
    )


def _carbon_ratio(substance: Substance) -> float | None:
    counts = {e: int(n or 1) for e, n in re.findall(r"([A-Z][a-z]?)(\d*)", substance.formula)}
    nitrogen = counts.get("N", 0)
    if not nitrogen:
        return None
    return (counts.get("C", 0) + counts.get("O", 0)) / nitrogen


def azide(case: GateCase) -> Gate:
    """Return whether an azide can have met dichloromethane, its kin, or an acid.

    Args:
        case: what the gates look at.
    """
    met = case.sheet.safety.met
    azides = [word for word in met if "azide" in word.casefold()]
    azides += [s.name for s in case.substances if "azide" in s.energetic_groups]
    halides = [s.name for s in case.substances if _is_geminal_halide(s)]
    acids = [s.name for s in case.substances if _is_acid(s)]
    acids += [w for w in met if any(a in w.casefold().split() for a in _ACID_WORDS)]
    state: State = "pass"
    settle = ""
    if azides and (halides or acids):
        state = "stop"
        says = (
            f"{_and(azides)} has met {_and([*halides, *acids])}: polyazidomethanes or hydrazoic "
            "acid (boils at 37 °C, collects in condenser and trap) explode. Do not distil it."
        )
    elif azides:
        state = "warn"
        says = (
            f"{_and(azides)} was there: never let acid, dichloromethane or chloroform near it, "
            "and prove that none is left before heating."
        )
    elif halides:
        state, settle = "warn", "safety.met"
        says = (
            f"{_and(halides)}: the sheet does not say whether it has met an azide; if it has, do "
            "not distil it."
        )
        if met:
            state, settle = "pass", ""
            says = f"{_and(halides)} has met {_and(met)}, no azide among them."
    else:
        says = (
            f"{_and(acids)}: the sheet names no azide among what it has met."
            if acids
            else "No azide is named, and neither dichloromethane, its kin nor an acid is there."
        )
    return Gate(
        "azide",
        state,
        says,
        {"azides": _and(azides), "halides": _and(halides), "acids": _and(acids)},
        "no azide with dichloromethane, chloroform or acid",
        ("prudent2011",),
        settle,
    )


def _is_geminal_halide(substance: Substance) -> bool:
    counts = dict(re.findall(r"([A-Z][a-z]?)(\d*)", substance.formula))
    halogens = sum(int(counts.get(x) or 1) for x in ("Cl", "Br", "I") if x in counts)
    return "C" in counts and counts["C"] == "" and halogens >= 2 and "O" not in counts


def _is_acid(substance: Substance) -> bool:
    return "acid" in substance.name.split() or substance.dimerisation is not None


def toxic_vapour(case: GateCase) -> Gate:
    """Return whether toxic or hydrogen-halide vapour can leave, and what the trap takes.

    Args:
        case: what the gates look at.
    """
    toxic = [s for s in case.substances if s.cas in _TOXIC or _ACYL_HALIDE.search(s.smiles)]
    amount = sum(
        p.amount_mol.value for p in case.sheet.charge if p.substance.name in {t.name for t in toxic}
    )
    vented = None
    if case.run is not None:
        names = [t.name for t in toxic]
        lost = zip(case.sheet.names, case.run.ledger.vent_mol, strict=True)
        vented = float(sum(v for name, v in lost if name in names))
    trap = case.sheet.safety.trap_mol
    words = _and([s.name for s in toxic])
    state: State = "pass"
    settle = ""
    if not toxic:
        says = (
            "No component is on our short list of liquids with toxic vapour or is an acid "
            "halide; the list is far from complete."
        )
    elif trap is None:
        state, settle = "stop", "safety.trap"
        says = (
            f"{words}: its vapour, or the hydrogen halide that it gives with moist air, is toxic, "
            "and no trap is stated."
        )
    elif trap < (need := max(vented or 0.0, 0.05 * amount)):
        state, settle = "stop", "safety.trap"
        says = (
            f"{words}: the trap takes {format_amount(trap)}, {format_amount(need)} may have to be "
            "held (what passes the condenser, or a twentieth of the charge)."
        )
    else:
        state = "warn"
        says = (
            f"{words}: work in a hood; the trap takes {format_amount(trap)}, the condenser lets "
            f"{format_amount(vented or 0.0)} pass."
        )
    return Gate(
        "toxic_vapour",
        state,
        says,
        {"charge_mol": amount, "vented_mol": vented, "trap_mol": trap},
        "a trap that holds whatever can pass the condenser",
        ("prudent2011", "practice"),
        settle,
    )


def warm_room(case: GateCase) -> Gate:
    """Return whether something boils, at the run's pressure, too near the room's temperature.

    Args:
        case: what the gates look at.
    """
    room = case.sheet.rig.room_temperature_K.value
    boiling = {
        s.name: boiling_temperature(s, case.lowest_pressure, "programme.pressure").temperature
        for s in case.substances
    }
    coldest = min(boiling, key=lambda name: boiling[name])
    margin = boiling[coldest] - room
    words = (
        f"{coldest} boils at {format_temperature(boiling[coldest], _WHOLE)}, "
        f"{format_number(margin, 0)} K above the room"
    )
    low = margin < _WARM
    return Gate(
        "warm_room",
        "warn" if low else "pass",
        f"{words}: cold coolant, a cooled and vented receiver." if low else f"{words}.",
        {"boiling_K": boiling[coldest], "room_K": room, "margin_K": margin},
        "at least 15 K between boiling point and room",
        ("practice",),
    )


def _and(words: Sequence[str]) -> str:
    return ", ".join(dict.fromkeys(words))
