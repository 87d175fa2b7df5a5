"""The page of promises names tests and proofs that exist, and the figures that were measured."""

from __future__ import annotations

import json
import re
from pathlib import Path

_ROOT = Path(__file__).resolve().parents[2]
_PAGE = (_ROOT / "docs" / "promises.md").read_text("utf-8")


def test_every_file_that_is_named_exists() -> None:
    named = set(re.findall(r"`((?:tests|tools)/[\w/.]+)`", _PAGE))
    links = {f"docs/{link}" for link in re.findall(r"\]\(([^)#:]+)\)", _PAGE)}
    assert len(named) >= 8
    assert [name for name in sorted(named | links) if not (_ROOT / name).exists()] == []


def test_the_figures_of_spoilt_input_are_those_measured() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "fuzzing.json").read_text("utf-8"))
    said = f"{figures['inputs']:,} inputs, {figures['failures']} failures, {figures['took_s']} s"
    assert f"[{said}](explain/fuzzing.json) on {figures['date']}" in _PAGE
    assert figures["inputs"] >= 100_000


def test_the_figures_of_odd_requests_are_those_measured() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "fuzzing_paths.json").read_text("utf-8"))
    said = f"{figures['inputs']:,} requests to {len(figures['paths'])} paths, "
    said += f"{figures['failures']} failures"
    assert f"[{said}](explain/fuzzing_paths.json) on {figures['date']}" in _PAGE
    assert figures["inputs"] >= 20_000


def test_the_figures_of_odd_bodies_are_those_measured() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "fuzzing_long.json").read_text("utf-8"))
    said = f"{figures['inputs']} bodies, {sum(figures['failures'].values())} failures"
    assert f"[{said}](explain/fuzzing_long.json) on {figures['date']}" in _PAGE


def test_the_parts_of_a_release_are_those_counted() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "release.json").read_text("utf-8"))
    python, page = (figures["components"][f"{n}.cdx.json"] for n in ("python", "page"))
    assert f"{python} Python and {page} page components on {figures['date']}" in _PAGE
    unseen = [said for said in figures["audits"] if "not examined" in said]
    assert bool(unseen) == ("**not examined**" in _PAGE)


def test_the_shares_of_mistakes_are_those_measured() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "mutants.json").read_text("utf-8"))
    gates = figures["gates"]
    said = f"{gates['noticed']} of {gates['tried']} noticed"
    assert f"[{said}](explain/mutants.json) on {gates['date']}" in _PAGE
    assert gates["tried"] == gates["mistakes"]  # all of them, not a sample
    assert gates["share"] >= 0.85
    for name in ("equilibrium", "still", "kernels"):
        rest = figures[name]
        low, high = (round(100 * end) for end in rest["interval_95"])
        said = rf"(?i)of {rest['tried']} drawn .*?from {rest['mistakes']:,} in `{name}`, "
        said += rf"{rest['noticed']} [^;]*?\({100 * rest['share']:.0f} %;[^;]*?{low} and {high} %"
        assert re.search(said, _PAGE), said
    heat = figures["heat"]
    assert heat["tried"] == heat["mistakes"]
    said = f"{heat['tried']} in the heat of a bath"
    assert re.search(
        rf"{said} [^,]*, [^,]*, {heat['noticed']} \({100 * heat['share']:.0f} %\)", _PAGE
    )


def test_the_figures_of_power_cuts_are_those_measured() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "power.json").read_text("utf-8"))
    cuts, faults = figures["cuts"], figures["faults"]
    lost = sum(one["lost"] + one["partly"] + one["not_whole"] for one in (cuts, faults))
    said = f"{cuts['tried']} cuts and {faults['tried']} faults, {lost} lost"
    assert f"[{said}](explain/power.json) on {figures['date']}" in _PAGE
    assert f"{figures['cuts_of_a_writer_that_does_not_sync']['lost']:,} rows" in _PAGE
    durable = (_ROOT / "docs" / "explain" / "durable.md").read_text("utf-8")
    assert f"| {cuts['tried']} | {cuts['acknowledged']:,} | {cuts['lost']} |" in durable
