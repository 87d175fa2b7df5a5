"""Make what is given away with a release, and say whether it is one.

    python tools/release.py [--out FOLDER] [--note]
    python tools/release.py --cut

Builds wheel and source archive, writes what they are made of (CycloneDX), their checksums, and asks
pip-audit and npm for known weaknesses where these are to be had. What could not be examined is said
to be not examined. The exit code is 0 when versions agree, CHANGELOG.md has a section for this one,
and nothing weak was found; 1 otherwise. --note keeps the figures in docs/explain/release.json.
--cut only turns the section "Unreleased" of CHANGELOG.md into the one of this version, with
the day of today: it is called on the day of a release, and nowhere else is a day written.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import re
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tools"))

import sbom  # noqa: E402 -- after the path is set

NOTE = ROOT / "docs" / "explain" / "release.json"
_UNRELEASED = "Unreleased"
_PATIENCE = 300  # s, for each tool that asks a network


@dataclass(frozen=True, slots=True)
class Audit:
    """What one tool found.

    Args:
        tool: its name.
        examined: packages that it knew something about.
        weak: one line for each known weakness.
        unseen: why something was not examined; empty when everything was.
    """

    tool: str
    examined: int
    weak: tuple[str, ...] = ()
    unseen: str = ""

    def said(self) -> str:
        """Return it as a sentence that claims no more than was looked at."""
        found = f"{self.examined} packages examined, {len(self.weak)} known weaknesses"
        parts = [found] if self.examined else []
        parts += [f"not examined: {self.unseen}"] if self.unseen else []
        return f"{self.tool}: {'; '.join(parts)}"


def main(arguments: list[str]) -> int:
    """Make a release; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=ROOT / "dist")
    parser.add_argument("--note", action="store_true")
    parser.add_argument("--cut", action="store_true")
    asked = parser.parse_args(arguments)
    if asked.cut:
        return cut(ROOT, date.today())
    version = project_version(ROOT)
    made = [*built(asked.out), *listed(asked.out, version)]
    made.append(summed(asked.out, made))
    audits = (audit_python(), audit_page())
    wrong = [*disagreements(ROOT), *(line for audit in audits for line in audit.weak)]
    for path in made:
        print(f"made: {path.name} ({path.stat().st_size / 1e6:.2f} MB)")
    for audit in audits:
        print(audit.said())
    for line in wrong:
        print(f"in the way: {line}")
    print(f"{version}: {'not ready' if wrong else 'ready'}")
    if asked.note:
        note(version, made, audits, wrong)
    return 1 if wrong else 0


def cut(root: Path, day: date) -> int:
    """Turn what is unreleased into the section of this version; returns the exit code."""
    version, path = project_version(root), root / "CHANGELOG.md"
    text = path.read_text("utf-8")
    head, title, rest = text.partition(f"## {_UNRELEASED}\n")
    section = re.split(r"^## ", rest, maxsplit=1, flags=re.MULTILINE)[0]
    taken = re.search(rf"^## +{re.escape(version)}\b", text, re.MULTILINE)
    if taken or not title or not re.search(r"^- \S", section, re.MULTILINE):
        why = (
            f"it has a section {version}; raise the version first"
            if taken
            else f"it has no lines under {_UNRELEASED!r}"
        )
        print(f"CHANGELOG.md was left as it is: {why}")
        return 1
    path.write_text(f"{head}## {version} ({day.isoformat()})\n{rest}", "utf-8")
    print(f"CHANGELOG.md begins with the section {version} ({day.isoformat()})")
    return 0


def note(version: str, made: list[Path], audits: tuple[Audit, ...], wrong: list[str]) -> None:
    """Keep the figures of this day."""
    boms = {p.name: json.loads(p.read_text("utf-8")) for p in made if p.name.endswith(".cdx.json")}
    figures = {
        "date": time.strftime("%Y-%m-%d"),
        "command": "python tools/release.py --note",
        "version": version,
        "files_MB": {p.name: round(p.stat().st_size / 1e6, 2) for p in made},
        "components": {name: len(bom["components"]) for name, bom in boms.items()},
        "audits": [audit.said() for audit in audits],
        "in_the_way": wrong,
    }
    NOTE.write_text(json.dumps(figures, indent=1, ensure_ascii=False) + "\n", "utf-8")


# --- versions


def project_version(root: Path) -> str:
    """Return the version that pyproject.toml gives."""
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    return str(project["version"])


def disagreements(root: Path) -> list[str]:
    """Return where versions differ, or that the changelog has no section for this one."""
    version = project_version(root)
    found = {
        "CITATION.cff": _first(r"^version: *\"?([^\s\"]+)", root / "CITATION.cff"),
        "web/package.json": json.loads((root / "web" / "package.json").read_text("utf-8"))[
            "version"
        ],
    }
    told = [
        f"{name} says {said}, pyproject.toml {version}"
        for name, said in found.items()
        if said != version
    ]
    section = _first(r"^## +(\S+)", root / "CHANGELOG.md")
    if section != version:
        told.append(
            f"CHANGELOG.md begins with {section!r}, not with a section {version}; on the day of a "
            "release `python tools/release.py --cut` makes it one"
        )
    return told


def _first(pattern: str, path: Path) -> str:
    found = re.search(pattern, path.read_text("utf-8"), re.MULTILINE)
    return found[1] if found else ""


# --- files


def built(folder: Path) -> list[Path]:
    """Build wheel and source archive into a folder and return them."""
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    version = project_version(ROOT)
    return sorted(p for p in folder.iterdir() if p.name.startswith(f"forerun-{version}"))


def listed(folder: Path, version: str) -> list[Path]:
    """Write what the wheel needs and what the page was built with, and return the files."""
    lock = (ROOT / "requirements" / "run.txt").read_text("utf-8")
    page = (ROOT / "web" / "package-lock.json").read_text("utf-8")
    return [
        sbom.written(sbom.python_bom(version, lock), folder / "python.cdx.json"),
        sbom.written(sbom.page_bom(version, page), folder / "page.cdx.json"),
    ]


def summed(folder: Path, made: list[Path]) -> Path:
    """Write the SHA-256 of every file, as `sha256sum --check` reads it."""
    lines = [f"{hashlib.sha256(p.read_bytes()).hexdigest()}  {p.name}\n" for p in made]
    path = folder / "SHA256SUMS"
    path.write_text("".join(lines), "utf-8")
    return path


# --- known weaknesses


def audit_python() -> Audit:
    """Ask pip-audit about every locked Python package."""
    lock = ROOT / "requirements" / "run.txt"
    command = ["pip-audit", "-r", str(lock), "--no-deps", "--disable-pip", "-f", "json"]
    return _asked("pip-audit", command, ROOT, read_pip_audit)


def audit_page() -> Audit:
    """Ask npm about every locked package of the page."""
    command = ["npm", "audit", "--package-lock-only", "--json"]
    return _asked("npm audit", command, ROOT / "web", read_npm_audit)


def _asked(
    tool: str, command: list[str], folder: Path, read: Callable[[dict[str, Any]], Audit]
) -> Audit:
    program = shutil.which(command[0])
    if program is None:
        return Audit(tool, 0, unseen=f"{command[0]} is not installed")
    try:
        done = subprocess.run(
            [program, *command[1:]],
            cwd=folder,
            capture_output=True,
            text=True,
            check=False,
            timeout=_PATIENCE,
        )
        return read(json.loads(done.stdout))
    except subprocess.TimeoutExpired:
        return Audit(tool, 0, unseen=f"no answer within {_PATIENCE} s")
    except (ValueError, KeyError, TypeError):
        return Audit(tool, 0, unseen="it gave no answer that can be read; is there a network?")


def read_pip_audit(said: dict[str, Any]) -> Audit:
    """Read the answer of pip-audit; what it skipped was not examined."""
    rows = said["dependencies"]
    skipped = [row["name"] for row in rows if "skip_reason" in row]
    weak = tuple(
        f"{row['name']} {row['version']}: {one['id']}"
        for row in rows
        for one in row.get("vulns", ())
    )
    unseen = f"{len(skipped)} of {len(rows)} packages that it knows nothing about"
    return Audit("pip-audit", len(rows) - len(skipped), weak, unseen if skipped else "")


def read_npm_audit(said: dict[str, Any]) -> Audit:
    """Read the answer of npm."""
    if "vulnerabilities" not in said:
        return Audit("npm audit", 0, unseen="the registry answered with an error")
    weak = tuple(
        f"{name}: {row['severity']}" for name, row in sorted(said["vulnerabilities"].items())
    )
    return Audit("npm audit", int(said["metadata"]["dependencies"]["total"]), weak)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
