"""The page that tells how often the corrected forecast is right, from its figures."""

from __future__ import annotations

import math
from pathlib import Path

__all__ = ["write_page"]

PAGE = Path(__file__).resolve().parents[2] / "docs" / "explain" / "live.md"
MARK = "<!-- from here on written by tools/proofs/live.py -->"


def write_page(report: dict, members: int) -> None:
    """Write the figures into the page."""
    head, _, _ = PAGE.read_text(encoding="utf-8").partition(MARK)
    parts = [head.rstrip(), "", MARK, "", "## How often it is right", ""]
    parts += [_told(report["richer"], members)]
    if "equal" in report:
        parts += ["", "### When truth and forecast are of one kind", "", _told(report["equal"], 0)]
    if "measured" in report:
        parts += ["", "## Records of real distillations", "", _replayed(report["measured"])]
    PAGE.write_text("\n".join(parts) + "\n", encoding="utf-8")


def _told(one: dict, members: int) -> str:
    close, last = _percent(one["close"]), _percent(one["close_as_last_run"])
    first = (
        f"{one['runs']} simulated runs with {one['switches']} switches (seeds from "
        f"{one['first_seed']}, {one['date']}). A switch was called within 2 mL or 2 min of the "
        "truth in "
        f"**{close}**; changing at the volume of the run before on the same sheet would have been "
        f"within 2 mL in {last}. {one['never_called']} were not called before the run "
        "itself ended, which counts as the call."
    )
    if "not_told" in one:
        first += (
            f" At {one['not_told'][0]} of {one['not_told'][1]} early moments no time was told, "
            "because most members did not reach the switch."
        )
    if members:
        first = (
            f"Measured with `python tools/proofs/live.py` ({members} members): each run is a "
            "simulated bench that is not "
            "what its sheet says, read on all channels every 10 s, without pot and pressure, or "
            f"typed every two minutes. In brackets 90 % intervals.\n\n{first}"
        )
    rows = [
        "| moment | estimates | error, median | before the run | 80 % band holds | 90 % band holds "
        "| spread/skill | where all members come to it | error in its own spread "
        "| CRPS gained on the forecast before the run | error less than the last run's by |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name, stage in one["stages"].items():
        if not stage:
            continue
        cells = [
            name,
            str(stage["moments"]),
            f"{stage['median_error_s']:.0f} s",
            f"{stage['median_error_before_s']:.0f} s",
            _percent(stage["coverage_80"]),
            _percent(stage["coverage_90"]),
            "{:.2f} ({:.2f}–{:.2f})".format(*stage["spread_skill"]),
            "{:.2f} ({:.2f}–{:.2f})".format(*stage["spread_skill_all_reach"]),
            f"{stage['own_spread_skill']:.2f}",
            _seconds(stage["crps_gain_s"]),
            _seconds(stage["gain_on_last_run_s"]),
        ]
        rows.append("| " + " | ".join(cells) + " |")
    stated = [
        f"{name}: {_gaps(one[key]['bins'])}; mean gap {100 * one[key]['mean_gap']:.1f} points"
        for name, key in (("the switch within 2 mL or 2 min", "within"), ("past it", "due"))
    ]
    early = one["stages"]["first three"]
    sheets = ", ".join(f"{k} {n} ({100 * c:.0f} %)" for k, (n, c) in one["sheets"].items())
    return "\n".join(
        [
            first,
            "",
            *rows,
            "",
            "Spread/skill: root mean variance over root mean square error of the mean, which long "
            "waits govern; its intervals draw runs, not moments. A member that never comes to the "
            "switch has no time, so that mean and spread are then of the others alone: the next "
            "column has only moments at which all come to it "
            f"({one['stages']['first three']['all_reach']} of "
            f"{one['stages']['first three']['moments']} of the first three). Then one over the "
            "root mean square of each error in its own spread, which outliers govern. All are 1 "
            "for honest bands. With members that never come counted as later than all others, the "
            f"bands of the first three hold {_percent(early['coverage_80_every'])} and "
            f"{_percent(early['coverage_90_every'])}.",
            "",
            "Stated and happened, in fifths of the stated probability, with the number of moments "
            "and a 90 % interval of the difference in points (runs drawn, not moments). "
            f"{'. '.join(stated)}.",
            "",
            f"Switches by sheet, with the share called close: {sheets}.",
        ]
    )


def _gaps(bins: list) -> str:
    return ", ".join(
        f"{100 * said:.0f} → {100 * was:.0f} % ({n}; {100 * low:+.0f} to {100 * high:+.0f})"
        for n, said, was, low, high in bins
    )


def _percent(values: list) -> str:
    middle, low, high = (100.0 * v for v in values)
    return f"{middle:.0f} % ({low:.0f}–{high:.0f})"


def _seconds(values: list | None) -> str:
    if values is None:
        return "–"
    middle, low, high = values
    return f"{middle:.0f} s ({low:.0f}–{high:.0f})"


def _replayed(one: dict) -> str:
    lines = [
        "Reports that were published with enough readings in them, replayed reading by reading by "
        f"`python tools/proofs/measured.py` ({one['date']}): sources and what each leaves unsaid "
        "are in `tools/proofs/measured_runs.json`. Most are of student laboratories; none prints "
        "times, most no composition, plates or pressure. Nothing was fitted to them.",
        "",
        f"Of {one['switches']} switches {round(one['switches'] * one['close'])} were called within "
        f"2 mL of where the record itself passes the mark, {one['never_called']} were never "
        "called.",
        "",
        "| record | mark | passed at | foreseen before the run | at half of it | at four fifths "
        "| called at |",
        "|---|---|---|---|---|---|---|",
    ]
    for row in one["each"]:
        spans = [_span(row[key]) for key in ("before_mL", "half_mL", "late_mL")]
        called = "never" if math.isnan(row["called_mL"]) else f"{row['called_mL']:.1f} mL"
        cells = [row["record"], f"{row['level_C']:.0f} °C", f"{row['true_mL']:.1f} mL", *spans]
        lines.append("| " + " | ".join([*cells, called]) + " |")
    return "\n".join(lines)


def _span(values: list) -> str:
    low, middle, high = values
    return "–" if math.isnan(middle) else f"{middle:.0f} mL ({low:.0f}–{high:.0f})"
