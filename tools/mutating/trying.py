"""Tests collected once; each mistake is tried by those that pass its line, in a child process."""

from __future__ import annotations

import json
import math
import os
import resource
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from mutating.mutations import Mutation, code_of, mutations_of
from mutating.putting import CannotPutError, put

__all__ = ["Target", "Trial", "Tried", "tried"]

_PATIENCE, _SLOWER = 10.0, 10.0  # s, and times what the tests take without a mistake
_CPU, _CPU_SLOWER = 12.0, 8.0  # the same for each test, of the processor's own time
_MEMORY = 6 << 30  # bytes
_STOPPED = {signal.SIGALRM, signal.SIGKILL, signal.SIGPROF}
KILLED, SURVIVED, TIMEOUT, UNREACHED = "killed", "survived", "timeout", "no test"


@dataclass(frozen=True, slots=True)
class Target:
    """A file into which mistakes are put.

    Args:
        path: of the file.
        module: its dotted name.
        kernels: whether its kernels are meant, then run as the Python that they are written in.
    """

    path: Path
    module: str
    kernels: bool = False


@dataclass(frozen=True, slots=True)
class Trial:
    """A mistake and where it is."""

    target: Target
    mutation: Mutation


@dataclass(slots=True)
class Tried:
    """What came of each mistake.

    Args:
        outcomes: trials with their outcome.
        tests: how many tests there were.
    """

    outcomes: list[tuple[Trial, str]] = field(default_factory=list)
    tests: int = 0


def tried(
    targets: Sequence[Target],
    tests: Sequence[str],
    chosen: Callable[[list[Trial]], list[Trial]],
    workers: int,
    told: Callable[[int, int, Trial, str], None],
) -> Tried:
    """Try mistakes with tests.

    Args:
        targets: files into which mistakes are put.
        tests: what pytest is asked to collect.
        chosen: which of all mistakes are tried.
        workers: children at a time.
        told: called with mistakes done and all, then the last one and what came of it.
    """
    plugin = _Plugin(targets, chosen, workers, told)
    code = pytest.main(["-n", "0", "-p", "no:cacheprovider", *tests], plugins=[plugin])
    if plugin.problem or code not in (0, pytest.ExitCode.OK):
        raise SystemExit(plugin.problem or f"pytest ended with {code}")
    return plugin.found


@dataclass(slots=True)
class _Map:
    """Which tests pass a line, and how long each takes, by the clock and of the processor [s]."""

    tests: dict[tuple[str, int], set[int]] = field(default_factory=dict)
    files: dict[str, set[int]] = field(default_factory=dict)
    took: dict[int, float] = field(default_factory=dict)
    worked: dict[int, float] = field(default_factory=dict)


class _Plugin:
    def __init__(
        self,
        targets: Sequence[Target],
        chosen: Callable[[list[Trial]], list[Trial]],
        workers: int,
        told: Callable[[int, int, Trial, str], None],
    ) -> None:
        self._targets, self._chosen = targets, chosen
        self._workers, self._told = workers, told
        self.found, self.problem = Tried(), ""
        self._failed = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self._failed = self._failed or report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Run the tests without a mistake, then with one after another."""
        for one in self._targets:
            import_module(one.module)
        _interpret({one.module for one in self._targets if one.kernels})
        where, failing = self._mapped(session.items)
        if failing:
            self.problem = f"without a mistake these fail: {', '.join(failing)}"
            return True
        everything = [Trial(t, m) for t in self._targets for m in _mutations(t)]
        trials = self._chosen(everything)
        self.found.tests = len(session.items)
        running: dict[int, tuple[Trial, float]] = {}
        waiting = list(trials)
        while waiting or running:
            while waiting and len(running) < self._workers:
                one = waiting.pop(0)
                first, rest = _who(one, where)
                if not first and not rest:
                    self._note(one, UNREACHED, len(trials))
                    continue
                order = [*first, *rest]
                limit = _PATIENCE + _SLOWER * sum(where.took[n] for n in order)
                each = {n: _CPU + _CPU_SLOWER * where.worked[n] for n in order}
                running[self._begun(one, session.items, each, limit)] = (one, limit)
            if running:
                process, status = os.wait()
                self._note(running.pop(process)[0], _outcome(status), len(trials))
        return True

    def _note(self, one: Trial, outcome: str, count: int) -> None:
        self.found.outcomes.append((one, outcome))
        self._told(len(self.found.outcomes), count, one, outcome)

    def _begun(
        self, one: Trial, items: list[pytest.Item], each: dict[int, float], limit: float
    ) -> int:
        process = os.fork()
        if process:
            return process
        code = 3
        try:
            _alone(limit, items)
            source = one.target.path.read_text("utf-8")
            number, kernels = one.mutation.number, one.target.kernels
            made = code_of(source, str(one.target.path), number, kernels)
            put(sys.modules[one.target.module], one.mutation.where, one.mutation.constant, made)
            code = self._run(items, each)
        except CannotPutError:
            code = 2
        except SystemExit:
            code = 1
        finally:
            os._exit(code)

    def _run(self, items: list[pytest.Item], each: dict[int, float]) -> int:
        chosen = [items[n] for n in each]
        for k, (item, seconds) in enumerate(zip(chosen, each.values(), strict=True)):
            signal.setitimer(signal.ITIMER_PROF, seconds)
            following = chosen[k + 1] if k + 1 < len(chosen) else None
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self._failed:
                return 1
        return 0

    def _mapped(self, items: list[pytest.Item]) -> tuple[_Map, list[str]]:
        """Run everything once in a child and read back who passed which line."""
        with tempfile.TemporaryDirectory() as folder:
            told = Path(folder) / "map.json"
            process = os.fork()
            if not process:
                code = 3
                try:
                    _alone(3600.0, items)
                    told.write_text(json.dumps(self._traced(items)), "utf-8")
                    code = 0
                finally:
                    os._exit(code)
            _, status = os.waitpid(process, 0)
            if status:
                return _Map(), [f"the run itself, with {status}"]
            rows = json.loads(told.read_text("utf-8"))
        found = _Map()
        for n, row in enumerate(rows["tests"]):
            found.took[n], found.worked[n] = row["took"], row["worked"]
            for name, lines in row["lines"].items():
                for line in lines:
                    found.tests.setdefault((name, line), set()).add(n)
                found.files.setdefault(name, set()).add(n)
            for name, lines in row["before"].items():  # a fixture serves others of its file
                others = {m for m, i in enumerate(items) if i.path == items[n].path}
                for line in lines:
                    found.tests.setdefault((name, line), set()).update(others)
                found.files.setdefault(name, set()).update(others)
        return found, rows["failing"]

    def _traced(self, items: list[pytest.Item]) -> dict[str, Any]:
        names = {str(one.path) for one in self._targets}
        seen: dict[str, set[int]] = {}

        def inside(frame: FrameType, event: str, _given: Any) -> Any:
            if event == "line":
                seen.setdefault(frame.f_code.co_filename, set()).add(frame.f_lineno)
            return inside

        def entered(frame: FrameType, _event: str, _given: Any) -> Any:
            return inside if frame.f_code.co_filename in names else None

        rows: list[dict[str, Any]] = []
        failing: list[str] = []

        class Before:
            @pytest.hookimpl(tryfirst=True)
            def pytest_runtest_call(self, item: pytest.Item) -> None:
                rows[-1]["before"] = {name: sorted(lines) for name, lines in seen.items()}
                seen.clear()

        items[0].config.pluginmanager.register(Before())
        for k, item in enumerate(items):
            rows.append({"before": {}, "lines": {}, "took": 0.0, "worked": 0.0})
            seen.clear()
            self._failed = False
            begun, worked = time.perf_counter(), time.process_time()
            threading.settrace(entered)
            sys.settrace(entered)
            following = items[k + 1] if k + 1 < len(items) else None
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            sys.settrace(None)
            rows[-1]["took"] = time.perf_counter() - begun
            rows[-1]["worked"] = time.process_time() - worked
            rows[-1]["lines"] = {name: sorted(lines) for name, lines in seen.items()}
            failing += [item.nodeid] if self._failed else []
        return {"tests": rows, "failing": failing}


def _interpret(modules: set[str]) -> None:
    """Let kernels run as Python, which a changed source does reach.

    Args:
        modules: whose kernels are meant; those that call them follow, for machine code calls
            machine code alone. What they call stays compiled, which is much quicker.
    """
    imported = import_module("forerun.numerics.compiled")._imported
    meant = [one for one in imported if one._function.__module__ in modules]
    while meant:
        for one in meant:
            one._run, one._ready = one._function, True
        done = {id(one) for one in imported if one._run is one._function}
        meant = [
            one
            for one in imported
            if id(one) not in done
            and any(id(one._function.__globals__.get(name)) in done for name in _names(one))
        ]


def _names(one: Any) -> tuple[str, ...]:
    names: tuple[str, ...] = one._function.__code__.co_names
    return names


def _mutations(target: Target) -> Iterator[Mutation]:
    yield from mutations_of(target.path.read_text("utf-8"), target.kernels)


def _who(one: Trial, where: _Map) -> tuple[list[int], list[int]]:
    """Return tests that pass the line, quickest first, and others that come to the file."""
    name = str(one.target.path)
    first = where.tests.get((name, one.mutation.line), set())
    whole = where.files.get(name, set())
    rest = whole - first  # what is remembered between tests hides who needs a line
    low, high = one.mutation.span
    entered = one.mutation.constant or any((name, n) in where.tests for n in range(low, high + 1))
    if not entered:
        rest = set()
    return sorted(first, key=where.took.__getitem__), sorted(rest, key=where.took.__getitem__)


def _outcome(status: int) -> str:
    if os.WIFSIGNALED(status):
        return TIMEOUT if os.WTERMSIG(status) in _STOPPED else KILLED
    code = os.WEXITSTATUS(status)
    if code in (2, 3):
        return "not put"
    return SURVIVED if code == 0 else KILLED


def _alone(limit: float, items: list[pytest.Item]) -> None:
    """Let this child speak to nobody and end by itself."""
    manager = items[0].config.pluginmanager
    manager.unregister(name="terminalreporter")
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    resource.setrlimit(resource.RLIMIT_DATA, (_MEMORY, _MEMORY))
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.alarm(math.ceil(limit))
