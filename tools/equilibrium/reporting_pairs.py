"""What is said about the fitted pairs: a summary for the terminal and a page for the docs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from judging import misses

from forerun.equilibrium.datafiles import load_data

if TYPE_CHECKING:
    from fit_pairs import Attempt

HEAD = Path(__file__).with_name("pairs_page.md")


def summary(
    attempts: Sequence[Attempt], rows: Sequence[Mapping[str, Any]], judged: Mapping[str, Any]
) -> str:
    """Return the numbers that tell whether the corrections are worth it."""
    several = [a for a in attempts if a.left_out and a.left_out.kind == "paper"]
    shipped = {tuple(r["names"]) for r in rows}
    before, after, used = left_out_medians(several)
    tables_before, tables_after = table_misses(attempts, shipped)
    lines = [
        f"{len(attempts)} pairs measured, {len(rows)} corrections ship, "
        f"{sum(len(r['papers']) > 1 for r in rows)} of them on several papers",
        f"{len(several)} pairs of several papers, left-out paper, median over pairs [K]: "
        f"base {before:.2f}, all fits {after:.2f}, fits that ship and base elsewhere {used:.2f}",
        f"share of those pairs predicted better: {won(several):.0%}",
        f"scatter about a new paper [K]: several {judged['several_papers_scatter_K']}, "
        f"one {judged['single_paper_scatter_K']}",
        f"{len(tables_before)} tables used, rms [K], median and 90 %: base "
        f"{np.median(tables_before):.2f}, {np.quantile(tables_before, 0.9):.2f}; corrected "
        f"{np.median(tables_after):.2f}, {np.quantile(tables_after, 0.9):.2f}",
    ]
    return "\n".join(lines)


def left_out_medians(several: Sequence[Attempt]) -> tuple[float, float, float]:
    """Return medians over pairs of the miss on left-out papers: base, fits, what is used [K]."""
    pairs = [(a.left_out.mean_before_K, a.left_out.mean_after_K, a) for a in several if a.left_out]
    used = [after if a.refused is None else before for before, after, a in pairs]
    return (
        float(np.median([p[0] for p in pairs])),
        float(np.median([p[1] for p in pairs])),
        float(np.median(used)),
    )


def won(several: Sequence[Attempt]) -> float:
    """Return the share of pairs whose left-out papers are predicted better by a fit."""
    better = [a.left_out.mean_after_K < a.left_out.mean_before_K for a in several if a.left_out]
    return float(np.mean(better))


def table_misses(
    attempts: Sequence[Attempt], shipped: set[tuple[str, ...]]
) -> tuple[list[float], list[float]]:
    """Return the rms miss of every table that is not left out: base, and what ships [K]."""
    before, after = [], []
    for a in attempts:
        if a.pair.points is None or a.fit is None:
            continue
        terms = a.fit.terms if a.pair.mixture.names in shipped else np.zeros_like(a.fit.terms)
        for t in np.unique(a.pair.points.table):
            seen = a.pair.points.take(a.pair.points.table == t)
            before.append(float(np.sqrt(np.mean(misses(seen, np.zeros_like(terms)) ** 2))))
            after.append(float(np.sqrt(np.mean(misses(seen, terms) ** 2))))
    return before, after


def docs_page(numbers: str, rows: Sequence[Mapping[str, Any]], judged: Mapping[str, Any]) -> str:
    """Return the page: what is explained by hand, then every pair and everything left out."""
    lines = [HEAD.read_text(encoding="utf-8").rstrip(), ""]
    lines += [f"- {line}" for line in numbers.splitlines()]
    lines += ["", "## The pairs", ""]
    lines += [
        "Temperatures in K. *Fitted*: rms over the points, base alone → corrected. *Left out*: "
        "mean rms on what the fit did not see, base alone → corrected.",
        "",
        "| pair | papers | points | fitted | left out | what | scatter |",
        "|---|---|---|---|---|---|---|",
    ]
    for r in rows:
        lines.append(
            f"| {' + '.join(r['names'])} | {len(r['papers'])} | {r['points']} | "
            f"{r['rms_before_K']:.2f} → {r['rms_after_K']:.2f} | "
            f"{r['left_out_before_K']:.2f} → {r['left_out_after_K']:.2f} | {r['left_out']} | "
            f"{r['scatter_K']:.2f} |"
        )
    lines += ["", "## Pairs without a correction", "", "The base speaks alone.", ""]
    lines += [f"- {name}: {reason}" for name, reason in sorted(judged["refused"].items())]
    lines += ["", "## Tables left out", ""]
    stated = {
        t["name"]: t["left_out"]
        for t in load_data("pairs_measured.json.gz")["tables"]
        if t["left_out"]
    }
    everything = sorted({**stated, **judged["left_out"]}.items())
    lines += [f"- `{name}`: {reason}" for name, reason in everything]
    return "\n".join(lines) + "\n"
