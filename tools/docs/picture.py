"""Draw docs/pictures/forecast.svg, the picture of the README: the forecast of the demo."""

from __future__ import annotations

import sys
from pathlib import Path

from forerun.app.cli import main as forerun

__all__ = ["main"]

PICTURE = Path(__file__).resolve().parents[2] / "docs" / "pictures" / "forecast.svg"


def main() -> int:
    """Draw the picture; returns the exit code of the command that drew it."""
    PICTURE.parent.mkdir(exist_ok=True)
    return forerun(["foresee", "workshop-blend", "--members", "64", "--out", str(PICTURE)])


if __name__ == "__main__":
    sys.exit(main())
