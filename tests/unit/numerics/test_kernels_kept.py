"""Kernels from disk: what is kept, what is refused, and what happens when nothing can be kept."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from forerun.app import prepare
from forerun.numerics import cache, compiled, loading, vectors
from forerun.numerics.signatures import Array, boolean, fixed_slots, float64, int64, record, void

COPY = void(float64[::1], float64[::1])


class Pair(NamedTuple):
    """A number and an array."""

    factor: float
    values: Any


def weighted(pair: Pair, count: int, twice: bool) -> float:
    total = 0.0
    for i in range(count):
        total += pair.factor * pair.values[i, 1]
    return 2.0 * total if twice else total


WEIGHTED = float64(record(Pair, float64, 2), int64, boolean)


def with_space(x: Any, count: int) -> float:
    space = np.empty((count, 2))
    total = 0.0
    for i in range(count):
        space[i, 1] = 2.0 * x[i]
    table = space.reshape((2 * count,))
    for i in range(2 * count):
        if i % 2 == 1:
            total += table[i]
    return total


def by_chance(x: float) -> float:
    return x + np.random.random()


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of its own, and nothing left behind in the lists of the process."""
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(compiled, "_imported", [])
    monkeypatch.setattr(compiled, "_when_missing", [])
    monkeypatch.setattr(compiled, "left_to_numba", {})
    return tmp_path / "cache"


def _copying() -> compiled.Kernel:
    return compiled.Kernel(vectors.copy_into._function, COPY)  # type: ignore[attr-defined]


def _works(kernel: compiled.Kernel) -> bool:
    target = np.zeros(3)
    kernel(target, np.array([1.0, 2.0, 3.0]))
    return target.tolist() == [1.0, 2.0, 3.0]


def _kept(folder: Path) -> list[Path]:
    return list(folder.rglob("*.o"))


@pytest.fixture
def kept(folder: Path) -> Path:
    """The one file of a kernel that has been compiled."""
    assert _works(_copying())
    (path,) = _kept(folder)
    return path


@pytest.fixture
def compilations(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the kernels that get compiled."""
    names: list[str] = []
    plain = compiled.Kernel._compiled

    def noting(self: compiled.Kernel) -> Any:
        names.append(self._name)
        return plain(self)

    monkeypatch.setattr(compiled.Kernel, "_compiled", noting)
    return names


@pytest.mark.usefixtures("kept")
def test_compiled_once(compilations: list[str]) -> None:
    assert _works(_copying())
    assert compilations == []


@pytest.mark.parametrize("damage", ["empty", "cut", "changed", "no head", "another text"])
def test_damaged_file_is_compiled_again(kept: Path, compilations: list[str], damage: str) -> None:
    sound = kept.read_bytes()
    middle = len(sound) // 2
    kept.write_bytes(
        {
            "empty": b"",
            "cut": sound[:middle],
            "changed": sound[:middle] + bytes([sound[middle] ^ 255]) + sound[middle + 1 :],
            "no head": sound.partition(b"\n")[2],
            "another text": b"[1, 2]\nabc",
        }[damage]
    )
    assert _works(_copying())
    assert _works(_copying())  # from the file, which is whole again
    assert len(compilations) == 1


def test_another_machine_has_code_of_its_own(
    kept: Path, compilations: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loading, "machine_digest", lambda: "another")
    assert _works(_copying())
    assert len(compilations) == 1
    assert {p.name.split(".")[-2] for p in _kept(kept.parents[2])} > {"another"}


def test_code_that_misses_a_name_is_not_placed(kept: Path, compilations: list[str]) -> None:
    head, _, code = kept.read_bytes().partition(b"\n")
    told = json.loads(head) | {"externals": ["no_such_function_anywhere"]}
    kept.write_bytes(json.dumps(told).encode() + b"\n" + code)
    assert _works(_copying())
    assert len(compilations) == 1


def test_code_that_cannot_be_placed_is_left_to_numba(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "placed", lambda *_: None)
    kernel = _copying()
    assert _works(kernel)
    assert list(compiled.left_to_numba) == [kernel._name]


def test_kernel_that_needs_its_compiler_is_left_to_it(folder: Path) -> None:
    kernel = compiled.Kernel(by_chance, float64(float64))
    assert 1.0 <= kernel(1.0) < 2.0
    assert "needs numba" in compiled.left_to_numba[kernel._name]
    assert _kept(folder) == []


def test_folder_that_cannot_be_made(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path / "file" / "cache"))
    assert _works(_copying())
    assert cache.why_not_kept()
    assert prepare.prepare_kernels() == 0
    told = capsys.readouterr().err
    assert "cannot be kept in" in told
    assert "FORERUN_CACHE" in told


def test_what_is_missing_is_announced_once() -> None:
    told: list[int] = []
    compiled.when_missing(lambda: told.append(1))
    assert _works(_copying())
    assert _works(compiled.Kernel(vectors.copy_into._function, COPY))  # type: ignore[attr-defined]
    assert told == [1]


def test_first_call_from_several_threads(compilations: list[str]) -> None:
    kernel = _copying()
    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(lambda _: _works(kernel), range(20)))
    assert len(compilations) == 1


def test_numbers_arrays_and_tuples() -> None:
    kernel = compiled.Kernel(weighted, WEIGHTED)
    pair = Pair(0.5, np.arange(6.0).reshape(3, 2))
    assert kernel(pair, 3, False) == weighted(pair, 3, False) == 4.5
    assert kernel(pair, np.int64(2), np.True_) == 4.0
    pair.values[0, 1] = 11.0  # the tuple is known already, its numbers are read anew
    assert kernel(pair, 1, False) == 5.5
    assert kernel(Pair(1, np.ones((1, 2))), 1, True) == 2.0
    with pytest.raises(TypeError):
        kernel((0.5, pair.values), 3, False)
    with pytest.raises(TypeError):
        kernel(Pair(0.5, np.ones((2, 3, 4))), 3, False)
    with pytest.raises(TypeError):
        kernel(pair, 3, 1)


def test_working_space_and_reshaping() -> None:
    kernel = compiled.Kernel(with_space, float64(float64[::1], int64))
    x = np.arange(50.0)
    assert {kernel(x, 50) for _ in range(100)} == {with_space(x, 50)}
    assert kernel(np.zeros(0), 0) == 0.0
    assert compiled.left_to_numba == {}


@pytest.mark.parametrize(
    "given",
    [
        (),
        (np.zeros(3),),
        (np.zeros(3), np.zeros(3), np.zeros(3)),
        (np.zeros(3), np.zeros(6)[::2]),
        (np.zeros(3), np.zeros(3, dtype=np.float32)),
        (np.zeros(3), np.zeros(3, dtype=np.int64)),
        (np.zeros(3), np.zeros(3).astype(">f8")),
        (np.zeros(3), np.zeros((3, 1))),
        (np.zeros(3), np.broadcast_to(np.zeros(1), 3)),
        (np.zeros(3), [0.0, 0.0, 0.0]),
        (np.zeros(3), None),
    ],
    ids=lambda given: loading._described(given[-1]) if given else "nothing",
)
def test_other_arguments_are_refused(given: tuple[Any, ...]) -> None:
    with pytest.raises(TypeError, match=r"copy_into takes \(float64\[::1\], float64\[::1\]\), not"):
        _copying()(*given)


def test_signatures_are_drawn_as_by_numba() -> None:
    assert str(void(float64[:, ::1], int64)) == "(float64[:, ::1], int64)"
    for index in (np.s_[:], np.s_[::2], np.s_[::1, :], np.s_[:, 1::1]):
        with pytest.raises(TypeError, match="drawn"):
            float64[index]
    with pytest.raises(TypeError, match="2 fields"):
        record(Pair, 1)
    with pytest.raises(TypeError, match="signed with"):
        compiled.kernel("float64(float64)")  # type: ignore[arg-type]


def scaled(pair: Pair, out: Any) -> None:
    for i in range(out.shape[0]):
        out[i] = pair.factor * pair.values[i, 1]


SCALED = void(record(Pair, float64, "N 2"), Array(float64, 1, ("N",)))
VERSIONS = ({"N": 2}, {"N": 3})


def _scaled(kernel: compiled.Kernel, rows: int, wide: int = 2) -> list[float]:
    out = np.zeros(rows)
    kernel(Pair(2.0, np.arange(rows * wide, dtype=np.float64).reshape(rows, wide)), out)
    return out.tolist()


@pytest.fixture
def placings(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Entries of the code that gets placed in the process."""
    entries: list[str] = []
    plain = loading._address

    def noting(code: loading.Code) -> int | None:
        entries.append(code[0].rpartition(".")[2])
        return plain(code)

    monkeypatch.setattr(loading, "_address", noting)
    return entries


def test_version_that_fits_is_taken_when_it_is_first_needed(placings: list[str]) -> None:
    kernel = compiled.Kernel(scaled, SCALED, versions=VERSIONS)
    expected = {rows: [2.0 * (2 * k + 1) for k in range(rows)] for rows in range(1, 5)}
    assert _scaled(kernel, 4) == expected[4]
    assert placings == ["scaled"]
    assert _scaled(kernel, 3) == _scaled(kernel, 3) == expected[3]
    assert placings == ["scaled", "2"]
    assert _scaled(kernel, 2) == expected[2]
    assert _scaled(kernel, 1) == expected[1]
    assert placings == ["scaled", "2", "1"]


def test_version_counts_on_no_length_that_an_array_has_not(placings: list[str]) -> None:
    kernel = compiled.Kernel(scaled, SCALED, versions=VERSIONS)
    assert _scaled(kernel, 3, wide=5) == [2.0, 12.0, 22.0]  # rows as wide as they really are
    assert placings == ["scaled"]


def test_damaged_version_is_compiled_again(
    folder: Path, compilations: list[str], placings: list[str]
) -> None:
    assert _scaled(compiled.Kernel(scaled, SCALED, versions=VERSIONS), 3) == [2.0, 6.0, 10.0]
    (path,) = folder.rglob("*.scaled.2.*.o")
    path.write_bytes(path.read_bytes()[:-1])
    assert _scaled(compiled.Kernel(scaled, SCALED, versions=VERSIONS), 3) == [2.0, 6.0, 10.0]
    assert len(compilations) == 2
    assert placings == ["scaled", "2"] * 2


def test_version_that_cannot_be_placed_leaves_its_work_to_the_general_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kernel = compiled.Kernel(scaled, SCALED, versions=VERSIONS)
    assert _scaled(kernel, 4) == [2.0, 6.0, 10.0, 14.0]
    monkeypatch.setattr(loading, "_address", lambda _: None)
    assert _scaled(kernel, 3) == [2.0, 6.0, 10.0]


def test_known_lengths_by_their_slots() -> None:
    kinds = record(Pair, float64, "N 2"), int64, Array(float64, 2, ("*", "N"))
    # number; address, N, 2; number; address, any, N
    assert fixed_slots(kinds, {"N": 7}) == {2: 7, 3: 2, 7: 7}
