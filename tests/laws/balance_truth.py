"""Invented runs whose masses are known, measured as at a bench, with or without one mishap.

The forecast that stands in is deliberately wrong by a quarter everywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.records.assays import read_assays
from forerun.reviewing.assays import statements_of
from forerun.reviewing.ledger import Reconciled, reconcile
from forerun.reviewing.observed import ObservedCut
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.results import Cut, Energy, Ledger, Run, Trace
from forerun.substances.correlations import density

Floats = npt.NDArray[np.float64]

MISHAPS = ("tare", "swapped", "unit")
CHARGES = (
    ("acetone", "toluene"),
    ("heptane", "toluene"),
    ("methanol", "water"),
    ("ethyl acetate", "toluene"),
    ("cyclohexane", "toluene"),
    ("acetone", "ethanol", "toluene"),
)
_OUNCE = 28.349523125
_EMPTY = np.empty(0)
_NOTHING = Trace((), *[_EMPTY] * 6, _EMPTY, _EMPTY, _EMPTY, _EMPTY)


@dataclass
class Bench:
    """A run as it was (places x components), and as it was written down."""

    sheet: RunSheet
    true: Floats
    mass: Floats
    volume: Floats
    fraction: Floats

    @property
    def receivers(self) -> int:
        return len(self.true) - 1

    @property
    def densities(self) -> Floats:
        return np.array([density(293.15, p.substance) for p in self.sheet.charge])

    def name(self, place: int) -> str:
        return f"cut {place + 1}" if place < self.receivers else "the pot"


def bench(rng: np.random.Generator) -> Bench:
    """Return one run, honestly written down."""
    names = CHARGES[rng.integers(len(CHARGES))]
    volumes = rng.uniform(30.0, 90.0, len(names))
    sheet = load(
        "".join(
            f'[[charge]]\nsubstance = "{name}"\namount = "{v:.1f} ± {0.01 * v:.2f} mL"\n'
            for name, v in zip(names, volumes, strict=True)
        )
        + '[rig]\nflask = "500 mL"\n'
    )
    count, receivers = len(names), int(rng.integers(3, 5))
    stated = np.array([p.mass_kg for p in sheet.charge])
    charged = stated * np.exp(rng.normal(0.0, 0.01, count))
    lost = np.abs(rng.normal(0.0, 0.01, count)) * charged
    held = np.abs(rng.normal(5e-4, 3e-4, count))
    where = np.arange(receivers + 1)
    peak = receivers / count * np.arange(count) + 0.3
    shares = np.exp(-0.5 * ((where[:, None] - peak) / 0.9) ** 2)
    shares *= np.exp(rng.normal(0.0, 0.2, shares.shape))
    true = (charged - lost - held) * shares / shares.sum(axis=0)
    run = Bench(sheet, true, _EMPTY, _EMPTY, _EMPTY)
    mass = true.sum(axis=1)
    run.mass = mass + rng.normal(0.0, np.hypot(5e-5, 5e-4 * mass))
    volume = (true @ (1.0 / run.densities))[:receivers]
    run.volume = volume + rng.normal(0.0, np.hypot(4e-7, 0.01 * volume))
    fraction = true / mass[:, None]
    seen = fraction + rng.normal(0.0, np.hypot(0.01 * fraction, 0.002))
    run.fraction = np.clip(seen, 1e-4, 0.9999)
    return run


def with_mishap(rng: np.random.Generator, mishap: str) -> tuple[Bench, str]:
    """Return a run with one mishap and the measurement that should be named."""
    while True:
        run = bench(rng)
        if mishap == "tare":
            place = int(rng.integers(run.receivers + 1))
            error = float(rng.choice([-1.0, 1.0]) * rng.uniform(2.5e-3, 12e-3))
            run.mass[place] = max(run.mass[place] + error, 1e-4)
            return run, f"mass of {run.name(place)}"
        if mishap == "unit":
            return run, _wrong_unit(rng, run)
        pairs = [
            (a, b)
            for a in range(run.receivers)
            for b in range(a + 1, run.receivers + 1)
            if np.abs(run.fraction[a] - run.fraction[b]).max() > 0.15
        ]
        if pairs:
            a, b = pairs[int(rng.integers(len(pairs)))]
            run.fraction[[a, b]] = run.fraction[[b, a]]
            return run, f"samples of {run.name(a)} and {run.name(b)}"


def _wrong_unit(rng: np.random.Generator, run: Bench) -> str:
    place, kind = int(rng.integers(run.receivers)), int(rng.integers(3))
    if kind == 0:  # grams read off, entered as millilitres
        run.volume[place] = 1e-3 * run.true[place].sum()
        return f"volume of cut {place + 1} by the readings"
    if kind == 1:  # ounces entered as grams
        run.mass[place] /= _OUNCE
    else:  # millilitres entered as grams
        run.mass[place] = 1e3 * run.volume[place]
    return f"mass of cut {place + 1}"


def reconciled(rng: np.random.Generator, run: Bench) -> Reconciled:
    """Return the account that `forerun review` makes of it."""
    substances = [p.substance for p in run.sheet.charge]
    lines = ["cut,method,substance,value,unit"]
    for k in range(run.receivers + 1):
        place = str(k + 1) if k < run.receivers else "pot"
        lines.append(f"{place},mass,,{1e3 * run.mass[k]:.3f},g")
        lines += [
            f"{place},gc_mass,{s.name},{100 * w:.2f},wt%"
            for s, w in zip(substances[:-1], run.fraction[k], strict=False)
        ]
    assays = read_assays("\n".join(lines) + "\n")
    observed = [
        ObservedCut(k + 1, *[0.0] * 6, 101325.0, float(v), math.nan, "sheet")
        for k, v in enumerate(run.volume)
    ]
    said = statements_of(assays, substances)
    assert not assays.flags
    assert not said.not_used
    return reconcile(run.sheet, observed, assays, said.rows, _forecast(rng, run))


def _forecast(rng: np.random.Generator, run: Bench) -> Run:
    off = run.true * np.exp(rng.normal(0.0, 0.25, run.true.shape))
    molar = np.array([p.substance.molar_mass for p in run.sheet.charge])
    nothing = np.zeros(molar.size)

    def cut(number: int, mass: Floats) -> Cut:
        moles = mass / molar
        volume = float(mass @ (1.0 / run.densities))
        return Cut(
            number, 0.0, 0.0, 0.0, 0.0, volume, float(mass.sum()), float(moles.sum()),
            moles / moles.sum(), mass / mass.sum(),
        )  # fmt: skip

    held = np.full(molar.size, 5e-4) / molar
    ledger = Ledger(nothing, nothing, nothing, held, nothing, 0.0)
    cuts = tuple(cut(k + 1, off[k]) for k in range(run.receivers))
    return Run(_NOTHING, None, cuts, cut(0, off[-1]), ledger, Energy(*[0.0] * 5), (), (), ())


@dataclass(frozen=True)
class Score:
    """Of so many runs, in how many something was found wrong, and rightly named."""

    runs: int
    accused: int
    named: int


def scored(mishap: str | None, runs: int, seed: int) -> Score:
    """Return how often a mishap, or none, is found and named."""
    rng = np.random.default_rng(seed)
    accused = named = 0
    for _ in range(runs):
        run, what = with_mishap(rng, mishap) if mishap else (bench(rng), "")
        found = reconciled(rng, run)
        accused += found.wrong
        named += bool(found.suspects) and found.suspects[0].what == what
    return Score(runs, accused, named)
