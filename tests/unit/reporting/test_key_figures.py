"""Every number of handout and key is what the engine gives, worked out again from its balances."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from forerun.app.lesson import lesson
from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.planning.aims import weights_for
from forerun.reporting.class_sheet import kit_words, questions_of, time_words, waste_words
from forerun.reporting.lesson import Lesson
from forerun.substances.correlations import boiling_temperature

BENCHES, LENGTH_S = 12, 7200.0
DIGIT = 0.051  # of the last digit where one stands after the point


@pytest.fixture(scope="module", params=["class-pair", "lowest-boiling-mixture"])
def made(request: pytest.FixtureRequest) -> Lesson:
    return lesson(request.param)


def _plain(text: str) -> str:
    return text.replace("\u202f", " ")


def _answer(found: Lesson, words: str) -> str:
    (one,) = [a for q, a in questions_of(found) if words in q]
    return _plain(one)


def _minutes(text: str) -> float:
    parts = re.findall(r"(\d+) (h|min)", text)
    assert parts, text
    return sum(float(n) * (60.0 if unit == "h" else 1.0) for n, unit in parts)


def _cuts_tried(found: Lesson, way: Any) -> tuple[float, float]:
    """Return share of the best cut as pure as asked and when it is complete [s], tried all."""
    goal, trace = found.ways.goal, way.run.trace
    weights = weights_for(found.ways.sheet, goal.basis)
    over, best, ready = trace.received_mol, 0.0, float("nan")
    for k in range(len(over)):
        held = over[k + 1 :] - over[k]
        whole = held @ weights
        wanted = held[:, goal.wanted] * weights[goal.wanted]
        good = np.flatnonzero((wanted >= goal.purity * whole - 1e-9) & (whole > 0.0))
        if good.size and held[good[-1], goal.wanted] > best:
            last = good[np.argmax(held[good, goal.wanted])]
            best, ready = float(held[last, goal.wanted]), float(trace.time_s[k + 1 + last])
    return best / float(way.run.ledger.charge_mol[goal.wanted]), ready


def test_the_first_drops(made: Lesson) -> None:
    at = 0.02 * made.ways.sheet.charge_volume_m3
    said = _answer(made, "begin there")
    for way in made.ways.ways:
        match = re.search(rf"{re.escape(way.label)}: ([\d.]+) °C, ([\d.]+) mol %", said)
        assert match is not None, way.label
        trace = way.run.trace
        flows = trace.distillate_volume_m3 > 0.0
        volume = trace.distillate_volume_m3[flows]
        head = float(np.interp(at, volume, trace.head_temperature_K[flows])) - 273.15
        ends = np.array([0.8, 1.6]) * at
        taken = np.array(
            [np.diff(np.interp(ends, volume, one))[0] for one in trace.received_mol[flows].T]
        )
        share = 100.0 * float(taken[made.ways.followed] / taken.sum())
        assert float(match[1]) == pytest.approx(head, abs=DIGIT)
        assert float(match[2]) == pytest.approx(share, abs=1.5)


def test_the_richest_receiver(made: Lesson) -> None:
    goal, each = made.ways.goal, made.ways.sheet.charge_volume_m3 / 5.0
    weights = weights_for(made.ways.sheet, goal.basis)
    told = re.findall(r"receiver (\d), ([\d.]+) mol %", _answer(made, "richest"))
    ways = (made.ways.ways[0], max(made.ways.ways, key=lambda way: way.plates))
    for (number, percent), way in zip(told, ways, strict=True):
        trace = way.run.trace
        volume, pure = trace.distillate_volume_m3, []
        for k in range(5):
            edges = [k * each, min((k + 1) * each, float(volume[-1]))]
            if edges[1] > edges[0] + 1e-9:
                held = [np.diff(np.interp(edges, volume, one))[0] for one in trace.received_mol.T]
                pure.append(100.0 * held[goal.wanted] * weights[goal.wanted] / (held @ weights))
        assert float(percent) == pytest.approx(max(pure), abs=0.15)
        assert int(number) == int(np.argmax(pure)) + 1


def test_what_repeating_gives_and_costs(made: Lesson) -> None:
    ways, simple = made.ways, made.ways.ways[0].run
    followed = ways.followed
    molar = np.array([p.volume_m3 / p.amount_mol.value for p in ways.sheet.charge])
    charged = float(simple.ledger.charge_mol[followed])
    told = re.findall(r"(\d) times?: ([\d.]+) mol % [^,]+, (\d+) % of it", _answer(made, "again"))
    assert len(told) == len(ways.rounds)
    half = 0.5 * ways.sheet.charge_volume_m3
    first = [
        np.interp(half, simple.trace.distillate_volume_m3, n) for n in simple.trace.received_mol.T
    ]
    assert float(told[0][1]) == pytest.approx(100.0 * first[followed] / sum(first), abs=0.3)
    for k, (number, pure, share) in enumerate(told, 1):
        assert int(number) == k
        x = float(pure) / 100.0
        one = x * molar[followed] + (1.0 - x) * molar[1 - followed]
        moles = x * ways.sheet.charge_volume_m3 * 0.5**k / one
        assert float(share) == pytest.approx(100.0 * moles / charged, abs=1.0)


def test_rule_and_limit(made: Lesson) -> None:
    ways, goal = made.ways, made.ways.goal
    boils = [
        boiling_temperature(p.substance, ways.pressure_Pa, "pressure").temperature
        for p in ways.sheet.charge
    ]
    gap = re.match(r"(\d+) K between", _answer(made, "difference of boiling points"))
    assert gap is not None
    assert float(gap[1]) == pytest.approx(abs(boils[0] - boils[1]), abs=0.51)
    (pure,) = [_plain(q) for q, _ in questions_of(made) if "begin there" in q]
    lowest = re.search(r"boils at ([\d.]+) °C", pure)
    assert lowest is not None
    assert float(lowest[1]) == pytest.approx(min(boils) - 273.15, abs=DIGIT)
    held = re.search(
        r"imaginable holds (\d+) % of the \S+ at ([\d.]+) mol %", _answer(made, "limit")
    )
    assert held is not None
    assert float(held[1]) == pytest.approx(100.0 * goal.recovery, abs=0.51)
    found = find_azeotropes(ways.mixture, ways.pressure_Pa).azeotropes
    top = min([100.0] + [100.0 * float(a.mole_fraction[goal.wanted]) for a in found])
    assert top - 0.5 <= float(held[2]) <= top + DIGIT


def test_whether_it_fits_the_class(made: Lesson) -> None:
    told = [_plain(said) for said in time_words(made, LENGTH_S)[1:]]
    for said, way in zip(told, made.ways.ways, strict=True):
        match = re.fullmatch(r"(.+): (cut ready|no such cut; run ends) after ([^:]+): (.+)\.", said)
        assert match is not None, said
        share, ready = _cuts_tried(made, way)
        assert (match[2] == "cut ready") == (share > 0.0)
        minutes = (ready if share > 0.0 else float(way.run.trace.time_s[-1])) / 60.0
        assert _minutes(match[3]) == pytest.approx(minutes, abs=1.1)
        assert ("too long" in match[4]) == (60.0 * minutes > LENGTH_S)
        assert _minutes(match[4]) == pytest.approx(abs(LENGTH_S / 60.0 - minutes), abs=1.1)


def test_kit_and_waste(made: Lesson) -> None:
    amounts = [float(re.match(r"[\d.]+", p.text)[0]) for p in made.ways.sheet.charge]  # type: ignore[index]  # mL
    kit = [_plain(said) for said in kit_words(made, BENCHES)]
    receivers = re.match(r"(\d+) receivers of ([\d.]+) mL", kit[1])
    assert receivers is not None
    assert int(receivers[1]) == 5 * BENCHES
    assert float(receivers[2]) == pytest.approx(sum(amounts) / 5.0, abs=DIGIT)
    for said, amount in zip(kit[2:], amounts, strict=True):
        assert float(said.split(" ")[0]) == pytest.approx(BENCHES * amount, abs=DIGIT)
    waste = " ".join(_plain(said) for said in waste_words(made, BENCHES))
    told = [float(n) for n in re.findall(r"([\d.]+) (?:mL|%)", waste)]
    run = made.ways.ways[0].run
    ledger = run.ledger
    left = ledger.charge_mol - run.trace.received_mol[-1] - ledger.holdup_mol - ledger.vent_mol
    molar = [p.volume_m3 / p.amount_mol.value for p in made.ways.sheet.charge]
    vent = 100.0 * float(ledger.vent_mol.sum() / ledger.charge_mol.sum())
    known = [BENCHES * sum(amounts), BENCHES * 1e6 * float(left @ molar), vent]
    assert told == pytest.approx(known, rel=0.01, abs=DIGIT)


def test_a_figure_that_slipped_is_noticed(made: Lesson) -> None:
    rounds = made.ways.rounds
    off = replace(rounds[1], share=rounds[1].share + 0.03)
    slipped = replace(made, ways=replace(made.ways, rounds=(rounds[0], off, *rounds[2:])))
    with pytest.raises(AssertionError):
        test_what_repeating_gives_and_costs(slipped)


def test_the_richest_receiver_is_said_in_the_basis_of_the_aim() -> None:
    """By mass where the aim is by mass: with steam that is far more than in moles."""
    found = lesson("steam")
    goal, first = found.ways.goal, found.ways.ways[0]
    assert goal.basis == "wt%"
    said = re.search(r"Simple still: receiver (\d), ([\d.]+) wt %", _answer(found, "richest"))
    assert said is not None
    trace = first.run.trace
    until = found.ways.sheet.charge_volume_m3 * 0.2 * int(said[1])
    weights = weights_for(found.ways.sheet, goal.basis)
    ends = [
        np.array([np.interp(v, trace.distillate_volume_m3, x) for x in trace.received_mol.T])
        for v in (until - 0.2 * found.ways.sheet.charge_volume_m3, until)
    ]
    held = (ends[1] - ends[0]) * weights
    assert float(said[2]) == pytest.approx(100.0 * held[goal.wanted] / held.sum(), abs=0.3)
