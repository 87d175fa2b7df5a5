"""Whether somebody on this machine is the user who started the server: the kernel knows.

On Linux the table of connections names the user of each end, so another account of the same
machine is told apart from one's own. Elsewhere nothing is known, and nobody is taken for the owner.

Source: proc(5), /proc/net/tcp: addresses in the byte order of the host, then the user.
"""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

__all__ = ["is_owner", "knows_users"]

_TABLE = Path("/proc/net/tcp")
_ROOT = 0


def knows_users() -> bool:
    """Return whether this system says whose a connection is."""
    return sys.platform == "linux" and os.access(_TABLE, os.R_OK)


def is_owner(client: tuple[str, int], server: tuple[str, int]) -> bool:
    """Return whether the other end of a connection within this machine is ours (or root's).

    Args:
        client: address and port of who asks, as the socket has them.
        server: address and port at which it is asked.
    """
    if not (client[0].startswith("127.") and server[0].startswith("127.") and knows_users()):
        return False
    wanted = [_written(*client), _written(*server)]
    try:
        rows = _TABLE.read_text("ascii").splitlines()
    except OSError:
        return False
    for row in rows:
        cells = row.split()
        if cells[1:3] == wanted:
            return int(cells[7]) in {os.getuid(), _ROOT}
    return False


def _written(address: str, port: int) -> str:
    raw = int.from_bytes(socket.inet_aton(address), sys.byteorder)
    return f"{raw:08X}:{port:04X}"
