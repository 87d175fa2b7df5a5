"""The kinds of value that a sheet holds, as pydantic field types.

Each type turns what a person wrote into SI, refuses the rest with what would be accepted, and
describes itself in the JSON Schema.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from pydantic import AfterValidator, PlainValidator, StringConstraints, WithJsonSchema
from pydantic_core import PydanticCustomError

from forerun.core.errors import BadInput
from forerun.core.quantities import Quantity, accepted_text, parse_quantity

__all__ = [
    "Amount",
    "BathCourse",
    "Conductance",
    "Count",
    "CourseGiven",
    "Day",
    "Difference",
    "Doubt",
    "Mass",
    "Moles",
    "PeroxideResult",
    "PressureCourse",
    "RatioCourse",
    "Share",
    "Strength",
    "Temperature",
    "Text",
    "Time",
    "Volume",
    "as_pydantic",
]

_MOST_KNOTS = 500
_LONGEST_TEXT = 200
_LARGEST_RATIO = 1000.0


@dataclass(frozen=True, slots=True)
class CourseGiven:
    """A course as a sheet gives it.

    Args:
        points: (time [s], value [SI]).
        sigma: one standard deviation, where a single value carried one [SI].
        text: as written.
    """

    points: tuple[tuple[float, float], ...]
    sigma: float
    text: str


def as_pydantic(read: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Pass a `BadInput` through pydantic, which adds the place in the sheet."""

    def validate(value: Any) -> Any:
        try:
            return read(value)
        except BadInput as error:
            raise PydanticCustomError(
                "forerun",
                "{accepted}",
                {"accepted": error.accepted, "shown": error.value, "inner": error.field},
            ) from error

    return validate


def _quantity(dimension: str | tuple[str, ...], **limits: Any) -> Any:
    """Return a field type for a quantity written with its unit."""
    schema = {"type": "string", "description": accepted_text(dimension)}
    read = as_pydantic(lambda value: parse_quantity(value, dimension, "", **limits))
    return Annotated[Quantity, PlainValidator(read), WithJsonSchema(schema)]


_RATIO = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?::\s*1|/\s*1)?")
_COUNT = re.compile(r"(\d+(?:[.,]\d+)?)(?:\s*(?:±|\+/-)\s*(\d+(?:[.,]\d+)?))?(?:\s*plates?)?")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _count(value: Any) -> Quantity:
    accepted = 'a number of theoretical plates from 0 to 100, such as 3 or "3 ± 0.5"'
    number, sigma = math.nan, 0.0
    if _is_number(value):
        number = float(value)
    elif isinstance(value, str) and (match := _COUNT.fullmatch(value.strip()[:40])):
        number = float(match[1].replace(",", "."))
        sigma = float(match[2].replace(",", ".")) if match[2] else 0.0
    if not 0.0 <= number <= 100.0:
        raise BadInput("", value, accepted)
    return Quantity(number, sigma, "count", "", str(value))


def _ratio(value: Any) -> float:
    accepted = 'a reflux ratio from 0 to 1000, such as 2.0, "5:1" or "total"'
    if isinstance(value, str) and value.strip().casefold() in ("total", "total reflux"):
        return math.inf
    number = math.nan
    if _is_number(value):
        number = float(value)
    elif isinstance(value, str) and (match := _RATIO.fullmatch(value.strip()[:40])):
        number = float(match[1].replace(",", "."))
    if not (0.0 <= number <= _LARGEST_RATIO or number == math.inf):
        raise BadInput("", value, accepted)
    return number


def _course(
    one: Callable[[Any], tuple[float, float]], example: tuple[str, str]
) -> Callable[[Any], Any]:
    accepted = f"{example[0]}, or a list of [time, value] pairs in order of time: {example[1]}"

    def read(value: Any) -> CourseGiven:
        if not isinstance(value, list | tuple):
            number, sigma = one(value)
            return CourseGiven(((0.0, number),), sigma, str(value))
        if not 0 < len(value) <= _MOST_KNOTS:
            raise BadInput("", value, f"1 to {_MOST_KNOTS} pairs [time, value]")
        points: list[tuple[float, float]] = []
        for n, pair in enumerate(value, start=1):
            if not isinstance(pair, list | tuple) or len(pair) != 2:
                raise BadInput(f"[{n}]", pair, accepted)
            try:
                time = parse_quantity(pair[0], "time", "").value
                points.append((time, one(pair[1])[0]))
            except BadInput as error:
                raise BadInput(f"[{n}]", error.value, error.accepted) from error
            if n > 1 and time < points[-2][0]:
                raise BadInput(f"[{n}]", pair[0], "times that do not go back")
            if n > 2 and time == points[-3][0]:
                raise BadInput(f"[{n}]", pair[0], "at most two points of one time (a jump)")
        return CourseGiven(tuple(points), 0.0, str(value))

    return read


def _course_type(one: Callable[[Any], tuple[float, float]], single: str, many: str) -> Any:
    pair = {"type": "array", "minItems": 2, "maxItems": 2}
    schema = {
        "description": f"{single}, or a list of [time, value] pairs such as {many}",
        "anyOf": [
            {"type": ["string", "number"]},
            {"type": "array", "items": pair, "minItems": 1, "maxItems": _MOST_KNOTS},
        ],
    }
    return Annotated[
        CourseGiven,
        PlainValidator(as_pydantic(_course(one, (single, many)))),
        WithJsonSchema(schema),
    ]


def _one_quantity(dimension: str, **limits: Any) -> Callable[[Any], tuple[float, float]]:
    def read(value: Any) -> tuple[float, float]:
        quantity = parse_quantity(value, dimension, "", **limits)
        return quantity.value, quantity.sigma

    return read


_PEROXIDE = re.compile(r"(<\s*)?(\d+(?:[.,]\d+)?)\s*(mg/L|mg/l|mg/kg|ppm)", re.IGNORECASE)
_NOTHING = {"none", "none detected", "not detected", "negative", "nothing"}


def _peroxide(value: Any) -> Quantity:
    """Read a test's result [mg/L]; a part per million counts as one milligram in a litre."""
    accepted = 'the result of a test, such as "none detected", "< 1 mg/L" or "5 mg/L"'
    text = " ".join(value.split()) if isinstance(value, str) else ""
    if text.casefold() in _NOTHING:
        return Quantity(0.0, 0.0, "peroxide", "mg/L", text)
    match = _PEROXIDE.fullmatch(text)
    if match is None:
        raise BadInput("", value, accepted)
    found = 0.0 if match[1] else float(match[2].replace(",", "."))
    return Quantity(found, 0.0, "peroxide", match[3], text)


def _day(value: Any) -> date:
    if isinstance(value, date):
        return date(value.year, value.month, value.day)
    try:
        return date.fromisoformat(value.strip() if isinstance(value, str) else "")
    except ValueError as problem:
        raise BadInput("", value, 'a date such as "2026-03-31"') from problem


def _printable(text: str) -> str:
    if not text.isprintable():
        raise PydanticCustomError(
            "forerun",
            "{accepted}",
            {"accepted": "one line of text without control characters", "shown": text},
        )
    return text.strip()


Text = Annotated[str, StringConstraints(max_length=_LONGEST_TEXT), AfterValidator(_printable)]
Amount = _quantity(("volume", "mass", "amount"), low_excluded=True)
Volume = _quantity("volume")
Temperature = _quantity("temperature")
Difference = _quantity("temperature_difference", low=-50.0, high=50.0)
Time = _quantity("time")
Conductance = _quantity("conductance")
Share = _quantity("share")
Strength = _quantity("strength")
Doubt = _quantity(("share", "temperature_difference", "pressure"), low=0.0)
Count = Annotated[
    Quantity,
    PlainValidator(as_pydantic(_count)),
    WithJsonSchema(
        {"type": ["number", "string"], "description": 'theoretical plates, such as 3 or "3 ± 0.5"'}
    ),
]
Moles = _quantity("amount")
Mass = _quantity("mass", low_excluded=True)
PeroxideResult = Annotated[
    Quantity,
    PlainValidator(as_pydantic(_peroxide)),
    WithJsonSchema(
        {"type": "string", "description": 'such as "none detected", "< 1 mg/L" or "5 mg/L"'}
    ),
]
Day = Annotated[
    date,
    PlainValidator(as_pydantic(_day)),
    WithJsonSchema({"type": "string", "description": 'a date such as "2026-03-31"'}),
]
PressureCourse = _course_type(
    _one_quantity("pressure", high=2e5),
    'a pressure up to 2 bar with its unit, such as "760 mmHg"',
    '[["0 min", "200 mbar"], ["10 min", "50 mbar"]]',
)
BathCourse = _course_type(
    _one_quantity("temperature"),
    'a temperature with its unit, such as "120 °C"',
    '[["0 min", "25 °C"], ["25 min", "120 °C"]]',
)
RatioCourse = _course_type(
    lambda value: (_ratio(value), 0.0),
    'a reflux ratio from 0 to 1000, such as 2.0, "5:1" or "total"',
    '[["0 min", "total"], ["30 min", 5]]',
)
