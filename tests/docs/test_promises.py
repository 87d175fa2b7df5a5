"""The page of promises names tests and proofs that exist, and the figures that were measured."""

from __future__ import annotations

import json
import re
from pathlib import Path

from forerun.app.web.openapi import description

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
    described = description("0")["paths"]
    asked = {f"{method.upper()} {path}" for path, held in described.items() for method in held}
    assert sorted(asked - set(figures["paths"])) == []  # what came since has to be sent odd things


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
    for name in ("engine", "integrator", "layers", "azeotropes", "residues"):
        rest = figures[name]
        low, high = (round(100 * end) for end in rest["interval_95"])
        said = f"`{name}`, {rest['noticed']} of {rest['tried']} ({100 * rest['share']:.0f} %; "
        said += f"between {low} and {high} %; {rest['outcomes']['changes nothing']} more change"
        assert said in _PAGE
        assert rest["share"] >= 0.85
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


def test_the_figures_of_a_full_lab_are_those_measured_wherever_they_stand() -> None:
    figures = json.loads((_ROOT / "docs" / "explain" / "load.json").read_text("utf-8"))
    slow, quick = figures["one a second"], figures["10 a second"]
    took, often = slow["acknowledged_ms"], quick["acknowledged_ms"]
    said = f"{slow['benches']} benches at one reading a second and one at ten, half an hour: "
    said += f"99 of 100 acknowledged within {took['99 %']:.0f} ms; "
    said += f"{quick['benches']} at ten a second, two hours: within {often['99 %']:.0f} ms"
    assert said in _PAGE
    assert slow["refused"] == quick["refused"] == 0
    assert "--minutes 121" in quick["command"]
    memory = quick["memory_MB"]
    grown = 100.0 * (memory["at the end"] / memory["when all are estimated"] - 1.0)
    assert grown < 5.0
    assert often["99 %"] < 50.0
    server = (_ROOT / "docs" / "how-to" / "lab-server.md").read_text("utf-8")
    said = f"None of {slow['readings']:,} readings in half an hour was refused; 95 of 100 were "
    said += f"acknowledged within {took['95 %']:.0f} ms, 99 within {took['99 %']:.0f} ms"
    assert said in server
    durable = (_ROOT / "docs" / "explain" / "durable.md").read_text("utf-8")
    row = f"| {slow['readings']:,} | "
    row += " | ".join(f"{took[k]:.0f} ms" for k in ("50 %", "95 %", "99 %"))
    assert row in durable
    flat = " ".join(durable.split())
    assert f"{quick['readings']:,} readings, none refused, all seen; acknowledged within " in flat
    said = f"{memory['when all are estimated']:.0f} MB in the middle of the first tenth, "
    said += f"{memory['at the end']:.0f} MB in that of the last, {grown:.1f} % more"
    assert said in flat


def test_the_counts_of_rows_taken_out_and_of_advice_kept_are_those_measured() -> None:
    rows = json.loads((_ROOT / "docs" / "explain" / "rows.json").read_text("utf-8"))
    said = f"[{rows['noticed']} of {rows['rows']} noticed](explain/rows.json) on {rows['date']}"
    assert said in _PAGE
    report = (_ROOT / "docs" / "explain" / "reliability.md").read_text("utf-8")
    found = re.search(r"\*\*(\d+) sheets\*\* .*?claimed (\d+) %, kept (\d+) %", report)
    assert found
    sheets, claimed, kept = found.groups()
    said = f"[{sheets} random sheets](explain/reliability.md) in a nature that it did not assume: "
    assert f"{said}said {claimed} %, kept {kept} %" in _PAGE
