"""What the journeys share: one browser and one server for each file of tests."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from journeys.browser import started_browser
from journeys.served import Server


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with started_browser() as found:
        yield found


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    found = Server()
    yield found
    assert "Traceback" not in found.close()
