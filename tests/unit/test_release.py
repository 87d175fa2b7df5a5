"""The release script: versions that must agree, lists of parts, audits that claim no more."""

from __future__ import annotations

import importlib.util
import json
import sys
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def release() -> ModuleType:
    spec = importlib.util.spec_from_file_location("release_script", ROOT / "tools" / "release.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["release_script"] = module
    spec.loader.exec_module(module)
    return module


def _tree(folder: Path, changelog: str, cited: str = "1.2.3", page: str = "1.2.3") -> Path:
    (folder / "web").mkdir()
    (folder / "pyproject.toml").write_text('[project]\nversion = "1.2.3"\n')
    (folder / "CITATION.cff").write_text(f"cff-version: 1.2.0\nversion: {cited}\n")
    (folder / "web" / "package.json").write_text(json.dumps({"version": page}))
    (folder / "CHANGELOG.md").write_text(changelog)
    return folder


def test_a_tree_whose_versions_agree_is_not_in_the_way(release: ModuleType, tmp_path: Path) -> None:
    tree = _tree(tmp_path, "# Changelog\n\n## 1.2.3 (2026-12-01)\n\n- x\n")
    assert release.disagreements(tree) == []


def test_every_version_that_differs_is_named(release: ModuleType, tmp_path: Path) -> None:
    tree = _tree(tmp_path, "# Changelog\n\n## Unreleased\n", cited="1.2.2", page="1.3.0")
    told = release.disagreements(tree)
    assert [line.split()[0] for line in told] == [
        "CITATION.cff",
        "web/package.json",
        "CHANGELOG.md",
    ]


def test_what_is_unreleased_becomes_the_section_on_the_day(
    release: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = "## 1.2.2 (2026-01-01)\n\n- y\n"
    tree = _tree(tmp_path, f"# Changelog\n\n## Unreleased\n\n- x\n\n{old}")
    assert len(release.disagreements(tree)) == 1
    assert release.cut(tree, date(2027, 2, 3)) == 0
    text = (tree / "CHANGELOG.md").read_text("utf-8")
    assert text == f"# Changelog\n\n## 1.2.3 (2027-02-03)\n\n- x\n\n{old}"
    assert release.disagreements(tree) == []
    assert release.cut(tree, date(2027, 2, 4)) == 1
    assert "raise the version first" in capsys.readouterr().out
    assert (tree / "CHANGELOG.md").read_text("utf-8") == text


@pytest.mark.parametrize("said", ["", "## Unreleased\n", "## Unreleased\n\n## 1.2.2\n\n- y\n"])
def test_no_release_is_made_of_nothing(release: ModuleType, tmp_path: Path, said: str) -> None:
    tree = _tree(tmp_path, f"# Changelog\n\n{said}")
    assert release.cut(tree, date(2027, 2, 3)) == 1
    assert (tree / "CHANGELOG.md").read_text("utf-8") == f"# Changelog\n\n{said}"


def test_this_changelog_could_be_cut_or_was(release: ModuleType) -> None:
    told = [line for line in release.disagreements(ROOT) if line.startswith("CHANGELOG")]
    assert not told or "begins with 'Unreleased'" in told[0]


def test_the_versions_of_this_tree_agree(release: ModuleType) -> None:
    assert [row for row in release.disagreements(ROOT) if not row.startswith("CHANGELOG")] == []


def test_what_pip_audit_skipped_is_not_called_examined(release: ModuleType) -> None:
    rows = [
        {"name": "a", "version": "1", "vulns": []},
        {"name": "b", "skip_reason": "not found"},
        {"name": "c", "version": "2", "vulns": [{"id": "PYSEC-1"}]},
    ]
    found = release.read_pip_audit({"dependencies": rows})
    assert (found.examined, found.weak) == (2, ("c 2: PYSEC-1",))
    assert "not examined: 1 of 3" in found.said()
    nothing = release.read_pip_audit({"dependencies": rows[1:2]})
    assert nothing.said() == "pip-audit: not examined: 1 of 1 packages that it knows nothing about"


def test_an_error_of_npm_is_not_a_clean_answer(release: ModuleType) -> None:
    assert release.read_npm_audit({"statusCode": 405}).said().startswith("npm audit: not examined")
    said = {
        "vulnerabilities": {"x": {"severity": "high"}},
        "metadata": {"dependencies": {"total": 81}},
    }
    found = release.read_npm_audit(said)
    assert found.weak == ("x: high",)
    assert found.said() == "npm audit: 81 packages examined, 1 known weaknesses"


@pytest.mark.parametrize("program", ["no-such-program-anywhere", sys.executable])
def test_a_tool_that_is_not_there_or_says_nothing_examined_nothing(
    release: ModuleType, program: str
) -> None:
    found = release._asked("it", [program, "-c", "print('no json')"], ROOT, release.read_npm_audit)
    assert found.examined == 0
    assert found.unseen


def test_both_lists_name_what_is_locked(release: ModuleType, tmp_path: Path) -> None:
    python, page = (
        json.loads(path.read_text("utf-8")) for path in release.listed(tmp_path, "1.2.3")
    )
    pins = release.sbom.pins((ROOT / "requirements" / "run.txt").read_text("utf-8"))
    assert {c["name"]: c["version"] for c in python["components"]} == pins
    locked = json.loads((ROOT / "web" / "package-lock.json").read_text("utf-8"))["packages"]
    assert len(page["components"]) == len(locked) - 1  # it lists itself
    for bom in (python, page):
        assert (bom["bomFormat"], bom["specVersion"], bom["version"]) == ("CycloneDX", "1.6", 1)
        refs = [bom["metadata"]["component"]["bom-ref"], *(c["bom-ref"] for c in bom["components"])]
        assert len(set(refs)) == len(refs)
        assert {need for row in bom["dependencies"] for need in row["dependsOn"]} <= set(refs)
        assert all(c["purl"].startswith("pkg:") for c in bom["components"])
    needs = {row["ref"]: row["dependsOn"] for row in python["dependencies"]}
    assert f"pkg:pypi/llvmlite@{pins['llvmlite']}" in needs[f"pkg:pypi/numba@{pins['numba']}"]
    assert len(page["components"][0]["hashes"][0]["content"]) == 128


def test_the_same_list_has_the_same_number(release: ModuleType) -> None:
    lock = "numpy==2.4.6\n"
    first, again, other = (release.sbom.python_bom(v, lock) for v in ("1.0.0", "1.0.0", "1.0.1"))
    assert first == again
    assert first["serialNumber"] != other["serialNumber"]


def test_sums_are_those_of_the_files(release: ModuleType, tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    text = release.summed(tmp_path, [tmp_path / "a"]).read_text()
    # FIPS 180-4, the example of SHA-256 for "abc"
    assert text == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  a\n"
