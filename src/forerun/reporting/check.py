"""What this machine has and lacks, line by line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from forerun.core.provenance import signed
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, wrapped

__all__ = ["Checked", "Finding"]

State = Literal["ok", "later", "missing"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    Args:
        name: what was looked at.
        state: ``ok``; ``later``, only needed for something, or made when first needed; or
            ``missing``, without which forerun does not work.
        found: what is there.
        advice: what to do; empty where nothing is to be done.
    """

    name: str
    state: State
    found: str
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """All that was looked at."""

    findings: tuple[Finding, ...]

    @property
    def ready(self) -> bool:
        """Whether nothing is missing without which forerun does not work."""
        return all(finding.state != "missing" for finding in self.findings)

    @property
    def warnings(self) -> Sequence[str]:
        """Nothing: the lines say it."""
        return ()

    def to_json(self) -> dict[str, Any]:
        """Return ``ready`` and the checks."""
        return signed(
            {"ready": self.ready, "checks": [asdict(finding) for finding in self.findings]}
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return a table, then what to do about it."""
        rows = [(f.state, f.name, f.found) for f in self.findings]
        lines = columns(("state", "what", "found"), rows, paper, left=3)
        advice = [f for f in self.findings if f.advice]
        for finding in advice:
            lines += ["", *wrapped(f"{finding.name}: {finding.advice}", paper)]
        return lines
