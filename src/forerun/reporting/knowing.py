"""What a forecast's members say beside its bands: what moves it, how pure, which windows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from forerun.core.quantities import format_number, format_per_cent, format_time
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.table import columns, wrapped

if TYPE_CHECKING:
    from forerun.forecast.bands import Interval
    from forerun.forecast.ensemble import Forecast
    from forerun.forecast.outlook import Outlook
    from forerun.forecast.product import Product, Window
    from forerun.forecast.sensitivity import Sensitivity

__all__ = ["knowing_object", "knowing_printed"]

_NAMED = 3  # unknowns that are named for each result
_ROWS = 6  # windows that are printed
_ML = 1e6
_CELSIUS = 273.15


def knowing_object(forecast: Forecast) -> dict[str, Any]:
    """Return the keys that members add to the contract's object; null or empty without them."""
    return {
        "sensitivities": [_sensitivity_object(one) for one in forecast.sensitivities],
        "product": None if forecast.product is None else _product_object(forecast.product),
        "outlook": None if forecast.outlook is None else _outlook_object(forecast.outlook),
    }


def _sensitivity_object(one: Sensitivity) -> dict[str, Any]:
    return {
        "result": one.result,
        "unit": one.unit,
        "sigma": number(one.sigma),
        "explained": number(one.explained),
        "shares": [
            {"name": s.name, "share": number(s.share), "effect": number(s.effect)}
            for s in one.shares
        ],
    }


def _product_object(product: Product) -> dict[str, Any]:
    return {
        "substance": product.name,
        "basis": product.basis,
        "asked": number(product.asked),
        "cuts": [
            {
                "number": odds.number,
                "purity_band": _ends(odds.purity),
                "recovery_band": _ends(odds.recovery),
                "probability": number(odds.probability),
            }
            for odds in product.cuts
        ],
        "front": [_window_object(window) for window in product.front],
    }


def _window_object(window: Window) -> dict[str, Any]:
    return {
        "start_volume_m3": number(window.start_m3),
        "end_volume_m3": number(window.end_m3),
        "start_head_K": number(window.start_head_K),
        "end_head_K": number(window.end_head_K),
        "purity": number(window.purity),
        "purity_band": _ends(window.purity_band),
        "recovery": number(window.recovery),
        "recovery_band": _ends(window.recovery_band),
        "time_s": number(window.time_s),
    }


def _outlook_object(outlook: Outlook) -> dict[str, Any]:
    return {
        "now_s": number(outlook.now_s),
        "switch": outlook.switch,
        "probability": number(outlook.probability),
        "time_band_s": _ends(outlook.time_s),
        "volume_band_m3": _ends(outlook.volume_m3),
        "first_drop_band_s": _ends(outlook.first_drop_s),
        "end_band_s": _ends(outlook.end_s),
    }


def _ends(band: Interval | None) -> list[float | None] | None:
    return None if band is None else [number(band.low), number(band.high)]


def knowing_printed(forecast: Forecast, paper: Paper) -> list[str]:
    """Return what moves the forecast and what windows would give, in lines; nothing without."""
    lines: list[str] = []
    if forecast.sensitivities:
        lines += ["", paper.ink("What moves it most", "bold")]
        for one in forecast.sensitivities:
            lines += wrapped(_moves(one), paper, mark="- ", indent=2)
    if forecast.product is not None:
        lines += _product_printed(forecast.product, paper)
    return lines


def _moves(one: Sensitivity) -> str:
    named = ", ".join(
        f"{_plain(share.name)} {100.0 * share.share:.0f} %" for share in one.shares[:_NAMED]
    )
    return f"{one.result} (± {format_time(one.sigma)}): {named or 'nothing by itself'}"


def _plain(name: str) -> str:
    kind, _, which = name.partition(":")
    if kind == "activity" and " and " not in which:
        return f"activity model {which}"
    words = kind.replace("_", " ")
    return f"{words} of {which}" if which else words


def _product_printed(product: Product, paper: Paper) -> list[str]:
    lines: list[str] = []
    likely = [odds for odds in product.cuts if odds.probability is not None]
    if likely and product.asked is not None:
        asked = f"{format_number(100.0 * product.asked, 1)} {product.basis} {product.name}"
        odds = ", ".join(f"cut {o.number} {100.0 * (o.probability or 0.0):.0f} %" for o in likely)
        lines += ["", *wrapped(f"Chance of at least {asked}: {odds}.", paper)]
    whole = [w for w in product.front if w.purity_band is not None]
    if not whole:
        return lines
    steps = min(_ROWS, len(whole))
    places = sorted({round(k * (len(whole) - 1) / max(steps - 1, 1)) for k in range(steps)})
    windows = [whole[k] for k in places]
    lines += ["", paper.ink(f"Other windows for {product.name}, none better in all", "bold")]
    head = (product.basis, "8 of 10", "recovery %", "collect mL", "head °C", "ready")
    return lines + columns(head, [_cells(w) for w in windows], paper, left=0)


def _cells(w: Window) -> tuple[str, ...]:
    band = w.purity_band
    spread = "" if band is None else f"{format_per_cent(band.low)}–{format_per_cent(band.high)}"
    return (
        format_per_cent(w.purity),
        spread,
        format_per_cent(w.recovery),
        f"{_ML * w.start_m3:.1f}–{_ML * w.end_m3:.1f}",
        f"{w.start_head_K - _CELSIUS:.0f}–{w.end_head_K - _CELSIUS:.0f}",
        format_time(w.time_s),
    )
