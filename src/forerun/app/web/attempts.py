"""How often a pass-phrase may be tried: a few times at once, then ever more slowly."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable

__all__ = ["Attempts"]

_FREE = 5  # wrong ones from one address before it has to wait
_FREE_OF_ALL = 60  # wrong ones from all addresses together, so that many are no way round
_FIRST, _LONGEST = 2.0, 900.0  # s to wait, doubled with each further one
_OF_ALL = 1.0  # s between two attempts once too many failed from everywhere
_FORGOTTEN = 3600.0  # s after which an address starts anew
_REMEMBERED = 10_000  # addresses


class Attempts:
    """Counts wrong attempts by address.

    Args:
        clock: seconds that only go forward.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._by_address: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self._all = (0, -_FORGOTTEN)

    def wait(self, address: str) -> float:
        """Begin an attempt, which counts as wrong until `right` says otherwise.

        Args:
            address: from which it comes.

        Returns:
            0 when it may be made, else how long to wait before the next [s].
        """
        now = self._clock()
        with self._lock:
            failed, last = self._known(self._by_address.get(address), now)
            failed_of_all, last_of_all = self._known(self._all, now)
            own = last + _pause(failed) - now if failed >= _FREE else 0.0
            common = last_of_all + _OF_ALL - now if failed_of_all >= _FREE_OF_ALL else 0.0
            if (left := max(own, common)) > 0.0:
                return left
            self._by_address[address] = (failed + 1, now)
            self._by_address.move_to_end(address)
            while len(self._by_address) > _REMEMBERED:
                self._by_address.popitem(last=False)
            self._all = (failed_of_all + 1, now)
            return 0.0

    def right(self, address: str) -> None:
        """Forget the wrong attempts of an address that came in."""
        with self._lock:
            self._by_address.pop(address, None)
            self._all = (max(0, self._all[0] - 1), self._all[1])

    def _known(self, found: tuple[int, float] | None, now: float) -> tuple[int, float]:
        if found is None or now - found[1] > _FORGOTTEN:
            return 0, now
        return found


def _pause(failed: int) -> float:
    return float(min(_LONGEST, _FIRST * 2.0 ** min(failed - _FREE, 30)))
