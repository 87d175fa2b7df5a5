"""To whom the server is open: this machine alone, or others by pass-phrase and certificate."""

from __future__ import annotations

import re
import ssl
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from forerun.app.web.access import Entry
from forerun.app.web.guards import LOOPBACK
from forerun.app.web.neighbours import knows_users
from forerun.app.web.passphrases import PassPhrases
from forerun.app.web.sessions import Sessions, script_token
from forerun.core.errors import BadInput

__all__ = ["Opening"]

_NAME = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?")
_HERE, _EVERYWHERE = "127.0.0.1", "0.0.0.0"


@dataclass(frozen=True, slots=True)
class Opening:
    """How a server is opened; to nobody but this machine when all is left out.

    Args:
        names: names or addresses by which others call this machine.
        certificate: file with the certificate, PEM.
        key: file with its key, PEM.
        plain: whether others may come in without encryption.
    """

    names: tuple[str, ...] = ()
    certificate: str | None = None
    key: str | None = None
    plain: bool = False

    def check(self) -> None:
        """Refuse what would be open to more than its owner believes.

        Raises:
            BadInput: a name that is none, no pass-phrase, or neither certificate nor `--plain`.
        """
        for name in self.names:
            if not _NAME.fullmatch(name):
                raise BadInput("--open", name, "a name or address, such as lab-pc.example")
        if (self.certificate is None) is not (self.key is None):
            given = self.certificate or self.key
            raise BadInput("--certificate", given, "--certificate and --key together")
        if self.certificate is not None and self.key is not None:
            _try(self.certificate, self.key)
        if not self.names:
            if self.plain:
                raise BadInput("--plain", "without --open", "--open NAME with it")
            return
        if self.plain and self.certificate is not None:
            raise BadInput("--plain", "with --certificate", "one of the two")
        if self.certificate is None and not self.plain:
            accepted = "--certificate FILE --key FILE; or --plain, and anybody may listen in"
            raise BadInput("--open", self.names[0], accepted)
        if not PassPhrases().roles():
            accepted = "a pass-phrase first: `forerun passphrase instructor`"
            raise BadInput("--open", self.names[0], accepted)

    @property
    def hosts(self) -> tuple[str, ...]:
        """Names under which the server may be asked."""
        return (*LOOPBACK, *(name.lower() for name in self.names))

    @property
    def listens_at(self) -> str:
        """Address of the sockets that are listened on."""
        return _EVERYWHERE if self.names else _HERE

    @property
    def encryption(self) -> dict[str, Any]:
        """What the server has to know of it."""
        if self.certificate is None:
            return {}
        return {"ssl_certfile": self.certificate, "ssl_keyfile": self.key}

    def entry(self) -> Entry:
        """Return by what people come in; says so where scripts can have no token."""
        try:
            token = script_token()
        except BadInput as problem:
            print(f"look out: scripts get no token. {problem}", file=sys.stderr)
            token = ""
        return Entry(PassPhrases() if self.names else None, Sessions(token))

    def address(self, port: int, entry: Entry) -> str:
        """Return the address to open: with a token that is good once where users are not known."""
        scheme = "https" if self.certificate else "http"
        name = self.names[0] if self.names else _HERE
        root = f"{scheme}://{name}:{port}/"
        if self.names or knows_users():
            return root
        return f"{root}start/{entry.sessions.start_token()}"


def _try(certificate: str, key: str) -> None:
    for option, path in (("--certificate", certificate), ("--key", key)):
        if not Path(path).is_file():
            raise BadInput(option, path, "a file in PEM")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
    except (ssl.SSLError, OSError, ValueError) as problem:
        accepted = "a certificate in PEM and the key that belongs to it, without a password"
        raise BadInput("--certificate", certificate, accepted) from problem


def _no_password() -> str:
    raise ValueError("a key with a password")
