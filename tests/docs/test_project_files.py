"""The files around the code: short where promised, links that lead somewhere, exact locks."""

from __future__ import annotations

import re
import tomllib

import pytest

from docs._public import ROOT

PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
LINK = re.compile(r"\]\((?!https?:|mailto:|#)([^)#]+)[^)]*\)")
PIN = re.compile(r"^([A-Za-z0-9_.-]+)==([A-Za-z0-9_.+!-]+)( ; .+)?$")
LOCKS = sorted((ROOT / "requirements").glob("*.txt"))


def _pins(name: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for line in (ROOT / "requirements" / name).read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            match = PIN.match(line)
            assert match, f"requirements/{name}: {line!r} is not an exact version"
            found[_plain(match.group(1))] = match.group(2)
    return found


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def test_readme_and_vision_keep_their_length() -> None:
    assert (ROOT / "README.md").read_text(encoding="utf-8").count("\n") <= 100
    assert (ROOT / "VISION.md").read_text(encoding="utf-8").count("\n") == 3


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(page) -> None:  # type: ignore[no-untyped-def]
    text = page.read_text(encoding="utf-8")
    broken = [link for link in LINK.findall(text) if not (page.parent / link).exists()]
    assert not broken, f"{page.name}: {broken}"


def test_decisions_are_numbered_without_a_gap() -> None:
    numbers = [int(p.name[:4]) for p in sorted((ROOT / "docs" / "decisions").glob("*.md"))]
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.parametrize("lock", LOCKS, ids=lambda p: p.name)
def test_locks_are_exact_and_name_no_host(lock) -> None:  # type: ignore[no-untyped-def]
    assert _pins(lock.name)
    assert "://" not in lock.read_text(encoding="utf-8")


def test_every_dependency_is_locked_within_its_bounds() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pins = _pins("run.txt")
    for requirement in project["dependencies"]:
        match = re.match(r"([A-Za-z0-9_.-]+)>=([\d.]+),<([\d.]+)$", requirement)
        assert match, f"{requirement} is not bounded on both sides"
        name, low, high = match.groups()
        assert _numbers(low) <= _numbers(pins[_plain(name)]) < _numbers(high), requirement


def test_locks_agree_where_they_overlap() -> None:
    run, build, dev = (_pins(name) for name in ("run.txt", "build.txt", "dev.txt"))
    for a, b in ((run, build), (run, dev), (build, dev)):
        assert all(a[name] == b[name] for name in a.keys() & b.keys())


def test_ci_hides_nothing() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "make test" in script
    assert "||" not in script
