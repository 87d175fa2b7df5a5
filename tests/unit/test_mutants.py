"""Mistakes that are put into code on purpose: which there are, and that they reach what runs."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = '''"""Words."""
from functools import cache
LIMIT = 2.0
__all__ = ["of"]
def of(x: int = 3) -> str:
    """Words."""
    if x < 4 and not x:
        raise ValueError("no")
    return f"{min(x, 1):.3f}" + "ends"
@cache
def kept(x: float) -> float:
    return x * LIMIT
class One:
    size: int = 5
    @property
    def twice(self) -> int:
        return 2 * self.size
@kernel(1)
def fast(x):
    return x + 1
'''


@pytest.fixture(scope="module")
def tools() -> Iterator[tuple[ModuleType, ModuleType]]:
    sys.path.insert(0, str(ROOT / "tools"))
    yield import_module("mutating.mutations"), import_module("mutating.putting")
    sys.path.remove(str(ROOT / "tools"))


def test_what_can_be_changed(tools: tuple[ModuleType, ModuleType]) -> None:
    found = tools[0].mutations_of(SOURCE)
    assert sorted((one.line, one.kind, one.where) for one in found) == [
        (3, "constant", "LIMIT"),
        (7, "boundary", "of"),
        (7, "comparison", "of"),
        (7, "condition", "of"),
        (7, "condition", "of"),
        (7, "constant", "of"),
        (7, "logic", "of"),
        (8, "dropped", "of"),
        (9, "constant", "of"),
        (9, "min and max", "of"),
        (12, "arithmetic", "kept"),
        (17, "arithmetic", "One.twice"),
        (17, "constant", "One.twice"),
    ]


def test_each_mistake_is_another_module(tools: tuple[ModuleType, ModuleType]) -> None:
    texts = set()
    for one in tools[0].mutations_of(SOURCE):
        code = tools[0].code_of(SOURCE, "x.py", one.number)
        texts.add(repr([(c.co_code, c.co_consts, c.co_names) for c in _codes(code)]))
    assert len(texts) == len(tools[0].mutations_of(SOURCE))


def _codes(code: object) -> Iterator[object]:
    yield code
    for one in code.co_consts:  # type: ignore[attr-defined]
        if hasattr(one, "co_consts"):
            yield from _codes(one)


def test_a_mistake_reaches_what_is_loaded(
    tools: tuple[ModuleType, ModuleType], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mutations, putting = tools
    source = SOURCE.split("@kernel", maxsplit=1)[0]
    path = tmp_path / "a_patient.py"
    path.write_text(source, "utf-8")
    spec = importlib.util.spec_from_file_location("a_patient", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "a_patient", module)
    spec.loader.exec_module(module)
    other = ModuleType("another")
    monkeypatch.setitem(sys.modules, "another", other)
    other.LIMIT, other.kept = module.LIMIT, module.kept  # type: ignore[attr-defined]

    def put(where: str, kind: str) -> None:
        one = next(m for m in mutations.mutations_of(source) if (m.where, m.kind) == (where, kind))
        code = mutations.code_of(source, str(path), one.number)
        putting.put(module, one.where, one.constant, code)

    put("LIMIT", "constant")
    assert pytest.approx(2.2) == other.LIMIT  # type: ignore[attr-defined]
    put("kept", "arithmetic")
    assert other.kept(1.1) == pytest.approx(0.5)  # type: ignore[attr-defined]
    put("One.twice", "constant")
    assert module.One().twice == 15
    with pytest.raises(putting.CannotPutError):
        putting.put(module, "none", False, mutations.code_of(source, str(path), 0))


def test_a_test_that_sees_nothing_lets_a_mistake_live(tmp_path: Path) -> None:
    (tmp_path / "patient.py").write_text(
        "def f(x):\n    return x > 1\n\n\ndef g(x):\n    return -x\n"
    )
    (tmp_path / "test_patient.py").write_text(
        "import patient\n\n\ndef test_f():\n    assert patient.f(2) and not patient.f(0)\n"
    )
    program = (
        "import sys; sys.path[:0] = sys.argv[1:]\n"
        "from pathlib import Path\n"
        "from mutating.trying import Target, tried\n"
        "target = Target(Path(sys.argv[2], 'patient.py'), 'patient')\n"
        "found = tried([target], [sys.argv[2]], lambda rows: rows, 2, lambda *told: None)\n"
        "for one, what in sorted(found.outcomes, key=lambda r: r[0].mutation.number):\n"
        "    print(one.mutation.kind, what, sep=': ')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(ROOT / "tools"), str(tmp_path)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-4:] == [
        "boundary: survived",
        "comparison: killed",
        "constant: killed",
        "condition: no test",
    ]


def test_only_what_is_meant_and_its_callers_run_as_python() -> None:
    program = (
        "import sys; sys.path[:0] = sys.argv[1:]\n"
        "import forerun.still.engine\n"
        "from forerun.numerics.compiled import _imported\n"
        "from mutating.trying import _interpret\n"
        "_interpret({'forerun.numerics.rosenbrock'})\n"
        "print(*sorted({k._name for k in _imported if k._run is k._function}), sep='\\n')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(ROOT / "tools"), str(ROOT / "src")],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    names = set(done.stdout.splitlines())
    own = {"between", "method_for", "next_factor", "point", "source"}
    assert {name for name in names if "rosenbrock" in name} == {
        f"forerun.numerics.rosenbrock.{name}" for name in own
    }
    assert "forerun.still.engine.advance" in names  # it calls them
    assert not {name for name in names if "balances" in name or "blocks" in name}


def test_the_interval_of_a_share() -> None:
    spec = importlib.util.spec_from_file_location("mutants", ROOT / "tools/proofs/mutants.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["mutants"] = module
    kept = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = kept
    # both ends solve (p - s)^2 = z^2 p (1 - p) / n, which is where the formula is from
    for end in module.wilson(17, 20):
        assert (end - 0.85) ** 2 == pytest.approx(1.959964**2 * end * (1 - end) / 20, abs=3e-4)
    assert module.wilson(0, 10)[0] == 0.0


def test_what_is_listed_as_no_mistake_is_in_the_code(tools: tuple[ModuleType, ModuleType]) -> None:
    listed = import_module("mutating.equivalents")
    for one in listed.equivalents():
        source = (ROOT / "src" / "forerun" / one.file).read_text("utf-8")
        found = [m for kernels in (False, True) for m in tools[0].mutations_of(source, kernels)]
        assert any(one.holds(one.file, mutation) for mutation in found), one
        assert len(one.reason) > 20, one


def test_constants_of_kernels_alone_are_not_changed(tools: tuple[ModuleType, ModuleType]) -> None:
    source = SOURCE + (
        "_INSIDE = 2.0\n_BOTH = 3.0\nSIGNED = record(One, 1, 2)\n"
        "@kernel(SIGNED)\ndef slow(x):\n    return x * _INSIDE * _BOTH\n"
        "def plain(x):\n    return x * _BOTH\n"
    )
    names = {one.where for one in tools[0].mutations_of(source)}
    assert "_BOTH" in names
    assert not {"_INSIDE", "SIGNED", "slow"} & names
    of_kernels = {one.where for one in tools[0].mutations_of(source, kernels=True)}
    assert of_kernels == {"_INSIDE", "slow", "fast"}
