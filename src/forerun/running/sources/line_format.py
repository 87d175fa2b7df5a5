"""Lines of text from an instrument: which part is which channel, said in a small file.

A file in TOML with tables ``[[line]]``, each with a ``pattern``: a regular expression whose named
groups are headings of readings (``head_C``, ``bath_C``, ``distillate_g``, ...).  A group
``head_F`` or ``distillate_mg`` stands for the same in another unit.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.records.readings import HEADINGS
from forerun.running.sources.interface import Row

__all__ = ["LineFormat", "line_format_from", "plain_format"]

_LONGEST_LINE = 500
_LONGEST_PATTERN = 300
_MOST_PATTERNS = 40
_ELSEWHERE = {
    "head_F": ("head_C", 5.0 / 9.0, -160.0 / 9.0),
    "pot_F": ("pot_C", 5.0 / 9.0, -160.0 / 9.0),
    "bath_F": ("bath_C", 5.0 / 9.0, -160.0 / 9.0),
    "pressure_Pa": ("pressure_mbar", 0.01, 0.0),
    "pressure_kPa": ("pressure_mbar", 10.0, 0.0),
    "distillate_mg": ("distillate_g", 1e-3, 0.0),
    "distillate_kg": ("distillate_g", 1e3, 0.0),
    "distillate_L": ("distillate_mL", 1e3, 0.0),
}
_NESTED = re.compile(r"\([^)]*[+*][^)]*\)[+*{]")  # such a pattern can take for ever


@dataclass(frozen=True, slots=True)
class LineFormat:
    """What lines of an instrument mean.

    Args:
        patterns: the first that fits a line is taken.
    """

    patterns: Sequence[re.Pattern[str]]

    def row(self, line: str) -> Row:
        """Return the reading in a line; a remark where it is not understood, nothing where empty.

        Args:
            line: without its end.
        """
        text = "".join(c for c in line if c.isprintable()).strip()
        if not text:
            return {}
        if len(text) <= _LONGEST_LINE:
            for pattern in self.patterns:
                fits = pattern.search(text)
                if fits:
                    return dict(_in_headings(k, v) for k, v in fits.groupdict().items() if v)
        return {"remark": f"line not understood: {text[:200]}"}


def _in_headings(name: str, value: str) -> tuple[str, str | float]:
    if name not in _ELSEWHERE:
        return name, value
    heading, factor, shift = _ELSEWHERE[name]
    try:
        return heading, float(value.replace(",", ".")) * factor + shift
    except ValueError:
        return heading, value  # the run flags it


def plain_format(heading: str = "head_C") -> LineFormat:
    """Return the format of an instrument that sends one number a line.

    Args:
        heading: what the number is.

    Raises:
        BadInput: a heading that readings do not have.
    """
    if heading not in HEADINGS and heading not in _ELSEWHERE:
        raise BadInput("channel", heading, ", ".join((*HEADINGS, *_ELSEWHERE)))
    number = r"[-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?"
    return LineFormat((re.compile(rf"(?<![\w.,])(?P<{heading}>{number})(?![\w.,])"),))


def line_format_from(path: Path) -> LineFormat:
    """Return the format that a file describes.

    Args:
        path: of the file.

    Raises:
        BadInput: a file that cannot be read or says something else.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise BadInput("format", str(path), f"a TOML file with [[line]] ({problem})") from problem
    tables = raw.get("line")
    if not isinstance(tables, list) or not 0 < len(tables) <= _MOST_PATTERNS:
        raise BadInput("format", str(path), f"1 to {_MOST_PATTERNS} tables [[line]]")
    return LineFormat(tuple(_pattern(table) for table in tables))


def _pattern(table: object) -> re.Pattern[str]:
    text = table.get("pattern") if isinstance(table, dict) else None
    if not isinstance(text, str) or not 0 < len(text) <= _LONGEST_PATTERN or _NESTED.search(text):
        raise BadInput("line.pattern", text, "a short regular expression without nested repeats")
    try:
        found = re.compile(text)
    except re.error as problem:
        raise BadInput("line.pattern", text, f"a regular expression ({problem})") from problem
    wrong = [name for name in found.groupindex if name not in (*HEADINGS, *_ELSEWHERE)]
    if wrong or not found.groupindex:
        accepted = f"groups named {', '.join((*HEADINGS, *_ELSEWHERE))}"
        raise BadInput("line.pattern", text, accepted)
    return found
