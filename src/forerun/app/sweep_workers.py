"""Who runs the points of a sweep: Dask's workers, or processes of our own where it is missing."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from forerun.core.errors import BadInput
from forerun.planning.sweep_plan import SweepPlan
from forerun.planning.sweeping import COLUMNS, evaluate

__all__ = ["run_parts", "workers_found"]

_PATIENCE = "15s"
_SOON = 5.0  # s
_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")

Rows = list[dict[str, Any]]
Vary = list[tuple[str, list[float | int | str]]]


def workers_found(cluster: str | None, parts: int) -> str:
    """Return in words who will run the points.

    Args:
        cluster: address of a Dask scheduler, or None.
        parts: how many parts there are; one alone is not worth starting workers for.

    Raises:
        BadInput: a cluster is named and Dask is not installed, or nobody answers there.
    """
    there = find_spec("distributed") is not None
    if cluster is not None:
        if not there:
            accepted = 'Dask, which pip install "forerun[sweep]" brings; or leave --cluster out'
            raise BadInput("--cluster", cluster, accepted)
        _reached(cluster)
        return f"Dask scheduler at {cluster}"
    if parts == 0:
        return "nobody, since all points were there"
    if parts == 1:
        return "this process alone"
    if there:
        return "Dask on this machine"
    return "processes on this machine, without Dask"


def _reached(address: str) -> None:
    """Look whether somebody answers, before Dask tries for long."""
    import socket
    from urllib.parse import urlsplit

    accepted = 'the address of a Dask scheduler that answers, such as "tcp://localhost:8786"'
    try:
        place = urlsplit(address)
        if not place.scheme or place.hostname is None or place.port is None:
            raise BadInput("--cluster", address, accepted)
        socket.create_connection((place.hostname, place.port), _SOON).close()
    except (OSError, ValueError) as problem:
        raise BadInput("--cluster", address, f"{accepted} ({problem})") from problem


def run_parts(
    plan: SweepPlan, parts: Sequence[Sequence[int]], cluster: str | None, workers: int | None
) -> Iterator[Rows]:
    """Run parts of a sweep and return the rows of each as it finishes, in any order.

    Args:
        plan: of the sweep.
        parts: numbers of the points of each.
        cluster: address of a Dask scheduler; None for this machine.
        workers: processes on this machine; None for one on each processor.

    Raises:
        BadInput: the scheduler cannot be reached.
    """
    count = workers or os.cpu_count() or 1
    if len(parts) == 1 and cluster is None:
        yield evaluate(plan.table, _vary(plan), parts[0])
    elif find_spec("distributed") is not None:
        yield from _by_dask(plan, parts, cluster, count)
    else:
        yield from _by_processes(plan, parts, count)


def _vary(plan: SweepPlan) -> Vary:
    return [(one.key, list(one.values)) for one in plan.vary]


def _by_dask(
    plan: SweepPlan, parts: Sequence[Sequence[int]], cluster: str | None, count: int
) -> Iterator[Rows]:
    import logging

    distributed: Any = import_module("distributed")
    for name in _THREADS:
        os.environ.setdefault(name, "1")
    try:
        if cluster is None:
            client = distributed.Client(
                n_workers=min(count, len(parts)),
                threads_per_worker=1,
                processes=True,
                dashboard_address=None,
                silence_logs=logging.CRITICAL,
            )
        else:
            client = distributed.Client(cluster, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as problem:
        shown = cluster or "this machine"
        raise BadInput(
            "--cluster", shown, f"a Dask scheduler that answers ({problem})"
        ) from problem
    with client:
        vary = _vary(plan)
        # never cached by its arguments: the same plan on other code must run again
        futures = {
            client.submit(evaluate, plan.table, vary, list(part), pure=False): part
            for part in parts
        }
        for future in distributed.as_completed(list(futures)):
            lost = future.exception()
            if lost is None:
                yield future.result()
            else:
                yield _lost(plan, futures[future], lost)


def _by_processes(plan: SweepPlan, parts: Sequence[Sequence[int]], count: int) -> Iterator[Rows]:
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    for name in _THREADS:
        os.environ.setdefault(name, "1")
    with ProcessPoolExecutor(min(count, len(parts)), mp_context=get_context("spawn")) as pool:
        vary = _vary(plan)
        futures = {pool.submit(evaluate, plan.table, vary, list(part)): part for part in parts}
        for future in as_completed(futures):
            problem = future.exception()
            yield future.result() if problem is None else _lost(plan, futures[future], problem)


def _lost(plan: SweepPlan, numbers: Sequence[int], problem: BaseException) -> Rows:
    """Return the rows of a part whose worker did not come back; they are recorded as failed."""
    said = f"the worker was lost: {problem or type(problem).__name__}"
    keys = [one.key for one in plan.vary]
    return [
        {
            **dict.fromkeys(COLUMNS),
            "point": number,
            "state": "failed",
            "problem": said,
            **dict(zip(keys, plan.values_at(number), strict=True)),
        }
        for number in numbers
    ]
