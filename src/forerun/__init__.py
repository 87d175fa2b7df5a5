"""forerun: a forecast for bench distillation.

The functions below take the same words as the commands and return typed results whose
``to_json()`` is the object that the command prints with ``--json``::

    import forerun

    forerun.look("toluene", pressure="20 mmHg").at.temperature        # K
    forerun.mix("ethanol", "water", pressure="1 atm", at=[0.3, 0.7]).bubble
    sheet = forerun.load("sheet.toml")
    forerun.foresee(sheet, members=64, seed=1).to_json()
    forerun.advise(sheet).to_json()["verdict"]

Nothing heavy is imported before it is needed.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from forerun.app.advise import advise
    from forerun.app.calibrate import calibrate
    from forerun.app.diagnose import diagnose
    from forerun.app.example import example
    from forerun.app.fit import fit
    from forerun.app.foresee import foresee
    from forerun.app.lesson import lesson
    from forerun.app.look import look
    from forerun.app.mix import mix
    from forerun.app.passport import passport
    from forerun.app.record import record
    from forerun.app.reproduce import reproduce
    from forerun.app.review import review
    from forerun.app.sheet import load

__all__ = [
    "advise",
    "calibrate",
    "diagnose",
    "example",
    "fit",
    "foresee",
    "lesson",
    "load",
    "look",
    "mix",
    "passport",
    "record",
    "reproduce",
    "review",
]

_HOMES = {
    "advise": "forerun.app.advise",
    "calibrate": "forerun.app.calibrate",
    "diagnose": "forerun.app.diagnose",
    "example": "forerun.app.example",
    "fit": "forerun.app.fit",
    "foresee": "forerun.app.foresee",
    "lesson": "forerun.app.lesson",
    "load": "forerun.app.sheet",
    "look": "forerun.app.look",
    "mix": "forerun.app.mix",
    "passport": "forerun.app.passport",
    "record": "forerun.app.record",
    "reproduce": "forerun.app.reproduce",
    "review": "forerun.app.review",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'forerun' has no attribute {name!r}")
    found = getattr(import_module(_HOMES[name]), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
