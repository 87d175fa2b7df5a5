"""Every question of the server, long reckonings too, with odd bodies: an answer or a sentence.

    python tools/proofs/fuzzing_long.py [SECONDS] [SEED]

`fuzzing.py` spoils what is read; this one sends what is read and yet is odd: amounts, pressures and
temperatures at the ends of what is accepted and beyond, other substances, keys left out, values of
another kind. Each question must be answered below 500 within a minute. The figures go to
docs/explain/fuzzing_long.json.
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from types import FrameType
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tools" / "proofs"))

import fuzzing  # noqa: E402 -- after the path is set

from forerun.app.web.asking import QUESTIONS  # noqa: E402
from forerun.core.errors import BadInput  # noqa: E402

FIGURES = ROOT / "docs" / "explain" / "fuzzing_long.json"
SECONDS = 300.0
HANG_S = 60.0
_SUBSTANCES = (
    *("water", "ethanol", "heptane", "toluene", "glycerol", "diethyl ether", "acetic acid"),
    *("methanol", "benzene", "cyclohexane", "hexanes", "anisole", "naphthalene", "aniline"),
    *("CCO", "carbon disulfide", "tert-butanol", "nitromethane", "1-butanol", "chloroform"),
)
_NUMBERS = ("0", "-1", "1e-9", "0.001", "1", "3", "20", "99.9", "300", "1e4", "1e9", "nan", "1e400")
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


class HangError(Exception):
    """An answer took longer than it may."""


def odd(value: Any, dice: random.Random, share: float) -> Any:
    """Return a body in which a share of values is exchanged for odd ones.

    Args:
        value: the body or a part of it.
        dice: chance.
        share: of the values that are exchanged.
    """
    if isinstance(value, dict):
        kept = {k: odd(v, dice, share) for k, v in value.items()}
        return {k: v for k, v in kept.items() if dice.random() > 0.1 * share}
    if isinstance(value, list):
        return [odd(v, dice, share) for v in value if dice.random() > 0.1 * share]
    return _odd_leaf(value, dice) if dice.random() < share else value


def _odd_leaf(value: Any, dice: random.Random) -> Any:
    if isinstance(value, bool):
        return dice.choice((not value, None, "true"))
    if isinstance(value, int | float):
        return dice.choice((0, -1, 1, 2, 0.5, 1e9, 10**30, str(value), None))
    if not isinstance(value, str):
        return value
    if "\n" in value:  # a table: a number here and there
        return _NUMBER.sub(lambda n: dice.choice(_NUMBERS) if dice.random() < 0.02 else n[0], value)
    if _NUMBER.search(value):
        return _NUMBER.sub(lambda _: dice.choice(_NUMBERS), value, count=1)
    return dice.choice((*_SUBSTANCES, "", None, 3))


def _bodies() -> dict[str, dict[str, Any]]:
    """Return a good body of each question, with few members so that many can be tried."""
    found = {}
    for name, question in QUESTIONS.items():
        body = json.loads(json.dumps(question.example))
        if "members" in question.takes:
            body["members"] = 2
        if name in {"review", "record"}:
            body["fit"] = False  # seconds each; odd values turn it on now and then
        found[name] = body
    return found


def main(arguments: list[str]) -> int:
    """Ask and write the figures; exit code 1 when anything failed."""
    seconds = float(arguments[0]) if arguments else SECONDS
    seed = int(arguments[1]) if len(arguments) > 1 else 1
    os.environ["FORERUN_DATA"] = tempfile.mkdtemp(prefix="forerun-fuzzing-")
    bodies, begun = _bodies(), time.monotonic()
    asked, refused, failures = Counter[str](), Counter[str](), Counter[str]()
    slowest: dict[str, float] = dict.fromkeys(bodies, 0.0)

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise HangError

    signal.signal(signal.SIGALRM, stop)
    with tempfile.TemporaryDirectory(prefix="forerun-fuzzing-") as made:
        server = fuzzing.Server(Path(made))
        k = 0
        while time.monotonic() - begun < seconds:
            dice = random.Random(f"{seed} {k}")
            name = list(bodies)[k % len(bodies)]
            raw = json.dumps(odd(bodies[name], dice, dice.choice((0.05, 0.15, 0.4)))).encode()
            start = time.perf_counter()
            signal.setitimer(signal.ITIMER_REAL, HANG_S)
            try:
                server.ask(fuzzing.Asked(f"/api/{name}", raw))
            except BadInput:
                refused[name] += 1
            except (Exception, HangError) as problem:
                failures[f"{name}: {type(problem).__name__}"] += 1
                print(f"{name} {raw[:1500]!r}\n{problem!r:.600}", file=sys.stderr)
            signal.setitimer(signal.ITIMER_REAL, 0)
            slowest[name] = max(slowest[name], time.perf_counter() - start)
            asked[name] += 1
            k += 1
        server.close()
    figures = {
        "date": time.strftime("%Y-%m-%d"),
        "command": f"python tools/proofs/fuzzing_long.py {seconds:g} {seed}",
        "inputs": asked.total(),
        "failures": dict(failures),
        "questions": {
            name: {
                "inputs": asked[name],
                "refused": refused[name],
                "slowest_s": round(slowest[name], 2),
            }
            for name in bodies
        },
    }
    print(json.dumps(figures, indent=1))
    FIGURES.write_text(json.dumps(figures, indent=1) + "\n", "utf-8")
    return 1 if failures else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
