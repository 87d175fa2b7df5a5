"""Every number in the sentences of a class page is what the engine gives, worked out again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from forerun.app.lesson import lesson
from unit.reporting.class_claims import wrong_numbers

EVERY_DAY = ("lowest-boiling-mixture", "small-charge")  # all of them: tools/proofs/lessons.py


@pytest.mark.parametrize("name", EVERY_DAY)
def test_every_number_is_so(name: str) -> None:
    seen, wrong = wrong_numbers(lesson(name))
    assert wrong == []
    assert seen >= 8


def test_a_wrong_number_is_noticed() -> None:
    found = lesson("small-charge")
    rounds = found.ways.rounds
    other = replace(rounds[-1], share=rounds[-1].share + 0.02)
    told = found.why
    assert any(f"{100 * rounds[-1].share:.0f}\u202f%" in said for said in told)
    changed = replace(found, ways=replace(found.ways, rounds=(*rounds[:-1], other)))
    slipped = replace(
        changed, ways=replace(changed.ways, goal=replace(found.ways.goal, purity=0.5))
    )
    assert wrong_numbers(slipped)[1]
