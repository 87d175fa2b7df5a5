"""`forerun demo`: the built-in example from charge to cuts."""

from __future__ import annotations

from forerun.app.example import DEMO
from forerun.app.foresee import foresee
from forerun.app.look import look_at
from forerun.app.mix import mix
from forerun.app.sheet import load
from forerun.reporting.demo import Demo

__all__ = ["USUAL_MEMBERS", "demo"]

USUAL_MEMBERS = 32


def demo(*, members: int = USUAL_MEMBERS, seed: int = 1) -> Demo:
    """Return the built-in example: its substances, their mixture, its forecast.

    Args:
        members: runs that the bands are drawn from; 0 for none.
        seed: repeats the same guesses.
    """
    sheet = load(DEMO)
    pressure = f"{sheet.programme.pressure_Pa.points[0][1]:.6g} Pa"
    looks = tuple(look_at(name, pressure=pressure) for name in sheet.names)
    together = mix(*sheet.names, pressure=pressure)
    return Demo(DEMO, looks, together, foresee(sheet, members=members, seed=seed))
