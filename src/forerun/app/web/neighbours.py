"""Whether somebody on this machine is the user who started the server: the kernel knows.

On Linux each end of a connection has a user, so another account of the same machine is told apart
from one's own. Elsewhere nothing is known, and nobody is taken for the owner.

Source: sock_diag(7), a request for one connection by its ends; where that is refused, proc(5),
/proc/net/tcp, which takes a hundred times longer.
"""

from __future__ import annotations

import os
import socket
import struct
import sys
from pathlib import Path

__all__ = ["is_owner", "knows_users"]

_TABLE = Path("/proc/net/tcp")
_ROOT = 0
_SOCK_DIAG, _BY_FAMILY, _REQUEST = 4, 20, 1
_HEAD = struct.Struct("=IHHII")
_WHICH = struct.Struct("=BBBxI")
_ENDS = struct.Struct("!HH4s12x4s12x")
_REST = struct.Struct("=III")  # interface, then the cookie that means none is known
_NONE = 0xFFFFFFFF
_ANSWER = struct.Struct("=4x32s16x12xI")  # state and timers; both ends; queues; user
_PATIENCE = 0.2  # s


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
    try:
        user = _user_asked(client, server)
    except OSError:
        user = _user_in_table(client, server)
    return user in {os.getuid(), _ROOT}


def _user_asked(client: tuple[str, int], server: tuple[str, int]) -> int | None:
    """Ask the kernel for one connection.

    Raises:
        OSError: it does not answer such questions, or not about this one.
    """
    ends = _ENDS.pack(client[1], server[1], _raw(client[0]), _raw(server[0]))
    which = _WHICH.pack(socket.AF_INET, socket.IPPROTO_TCP, 0, _NONE)
    asked = which + ends + _REST.pack(0, _NONE, _NONE)
    head = _HEAD.pack(_HEAD.size + len(asked), _BY_FAMILY, _REQUEST, 1, 0)
    with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, _SOCK_DIAG) as line:
        line.settimeout(_PATIENCE)
        line.sendto(head + asked, (0, 0))
        told = line.recv(4096)
    if len(told) < _HEAD.size + _ANSWER.size or _HEAD.unpack_from(told)[1] != _BY_FAMILY:
        raise OSError("the kernel does not know that connection")
    seen, user = _ANSWER.unpack_from(told, _HEAD.size)
    return int(user) if seen[:8] + seen[20:24] == ends[:8] + ends[20:24] else None


def _user_in_table(client: tuple[str, int], server: tuple[str, int]) -> int | None:
    wanted = [_written(*client), _written(*server)]
    try:
        rows = _TABLE.read_text("ascii").splitlines()
    except OSError:
        return None
    for row in rows:
        cells = row.split()
        if cells[1:3] == wanted:
            return int(cells[7])
    return None


def _raw(address: str) -> bytes:
    return socket.inet_aton(address)


def _written(address: str, port: int) -> str:
    return f"{int.from_bytes(_raw(address), sys.byteorder):08X}:{port:04X}"
