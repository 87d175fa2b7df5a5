"""Runs in a PostgreSQL database, for a lab that has one.

Every commit waits for the disk of the server, one writer at a time over all who are connected: an
acknowledged row survives a kill of either process and a loss of power, as far as that server's
disk keeps its word.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from forerun.core.errors import BadInput, NotStored
from forerun.records.postgres_schema import PREPARED, READ_VERSION
from forerun.records.schema import VERSION
from forerun.records.sql_store import SqlRunStore

if TYPE_CHECKING:
    import psycopg

__all__ = ["PostgresRunStore", "place_of"]

_PATIENCE = 10  # s to connect, and to wait for another writer
_PEN = 0x666F7265  # the advisory lock that stands for the only pen
_ACCEPTED = "the address of a PostgreSQL database, such as postgresql://forerun@db.example/forerun"


class PostgresRunStore(SqlRunStore):
    """A store of runs in a database.

    Args:
        url: of the database, as libpq takes it; a password belongs in its pass file.

    Raises:
        BadInput: no such database, one that a newer version wrote, or one that does not wait for
            its disk; or psycopg is not installed.
    """

    def __init__(self, url: str) -> None:
        try:
            import psycopg  # noqa: PLC0415 -- only who has such a database needs it
        except ImportError as problem:
            needed = 'the package "psycopg": pip install "forerun[postgresql]"'
            raise BadInput("FORERUN_DATABASE", place_of(url), needed) from problem
        self._api = psycopg
        self._no_such_row = (psycopg.IntegrityError,)  # type: ignore[misc]
        self._url, self._place = url, place_of(url)
        self._lock = threading.RLock()
        try:
            self._db = self._connected()
            try:
                self._prepare()
            except BaseException:
                self._db.close()
                raise
        except (psycopg.Error, NotStored) as problem:
            accepted = f"{_ACCEPTED} ({_plain(problem)})"
            raise BadInput("FORERUN_DATABASE", self._place, accepted) from problem

    def _connected(self) -> psycopg.Connection[tuple[Any, ...]]:
        db = self._api.connect(self._url, autocommit=True, connect_timeout=_PATIENCE)
        db.execute("SET synchronous_commit = on")
        db.execute(f"SET lock_timeout = '{_PATIENCE}s'")
        row = db.execute("SHOW fsync").fetchone()
        if row is None or row[0] != "on":
            db.close()
            accepted = "a server that waits for its disk (fsync = on)"
            raise BadInput("FORERUN_DATABASE", self._place, accepted)
        return db

    def _prepare(self) -> None:
        with self._writing():
            (there,) = self._all("SELECT to_regclass('forerun_version') IS NOT NULL")[0]
            if not there:
                for statement in PREPARED:
                    self._db.execute(statement.encode())
                return
            version = int(self._all(READ_VERSION)[0][0])
            if version != VERSION:
                accepted = f"a database of version {VERSION} (this one: {version})"
                raise BadInput("FORERUN_DATABASE", self._place, accepted)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with self._lock:
            inner = self._in_transaction()
            try:
                self._begin(inner)
                yield
                self._db.execute("RELEASE act" if inner else "COMMIT")
            except self._api.Error as problem:
                self._undo(inner)
                raise NotStored(self._place, _plain(problem)) from problem
            except BaseException:
                self._undo(inner)
                raise

    def _begin(self, inner: bool) -> None:
        if inner:
            self._db.execute("SAVEPOINT act")
            return
        if self._db.closed:
            self._db = self._connected()  # the server was away; what it had acknowledged is there
        self._db.execute("BEGIN")
        self._db.execute(f"SELECT pg_advisory_xact_lock({_PEN})")

    def _in_transaction(self) -> bool:
        if self._db.closed:
            return False
        return self._db.info.transaction_status != self._api.pq.TransactionStatus.IDLE

    def _undo(self, inner: bool) -> None:
        if not self._in_transaction():
            return
        try:
            for statement in ("ROLLBACK TO act", "RELEASE act") if inner else ("ROLLBACK",):
                self._db.execute(statement)
        except self._api.Error:
            self._db.close()  # the connection is gone, and what was not committed with it

    def _do(self, statement: str, values: Sequence[object]) -> None:
        with self._lock:
            self._db.execute(_marked(statement), [_storable(value) for value in values])

    def _all(self, statement: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        with self._lock:
            if self._in_transaction():
                return self._db.execute(_marked(statement), list(values)).fetchall()
            return self._asked(_marked(statement), list(values))

    def _asked(self, statement: bytes, values: list[object]) -> list[tuple[Any, ...]]:
        """Ask, once more where the connection was lost meanwhile."""
        try:
            if not self._db.closed:
                try:
                    return self._db.execute(statement, values).fetchall()
                except self._api.OperationalError:
                    self._db.close()
            self._db = self._connected()
            return self._db.execute(statement, values).fetchall()
        except self._api.Error as problem:
            raise NotStored(self._place, _plain(problem)) from problem

    @contextmanager
    def _let_go(self, tables: Sequence[str]) -> Iterator[None]:
        for table in tables:
            self._db.execute(f"ALTER TABLE {table} DISABLE TRIGGER {table}_stays".encode())
        yield
        for table in tables:
            self._db.execute(f"ALTER TABLE {table} ENABLE TRIGGER {table}_stays".encode())

    def scrub(self) -> bool:
        """Leave it to the server, whose own housekeeping frees the space of what was erased."""
        return False

    def close(self) -> None:
        """Let go of the database."""
        with self._lock:
            self._db.close()


def place_of(url: str) -> str:
    """Return where a database is, without any secret.

    Args:
        url: of the database.
    """
    scheme, _, rest = url.partition("://")
    where = rest.rpartition("@")[2].partition("?")[0]
    return f"{scheme}://{where}" if rest else "a database"


def _marked(statement: str) -> bytes:
    """Return a statement with the marks of this database."""
    return statement.replace("?", "%s").encode()


def _storable(value: object) -> object:
    """Return text without the one character that this database cannot hold."""
    return value.replace("\0", "\N{SYMBOL FOR NULL}") if isinstance(value, str) else value


def _plain(problem: Exception) -> str:
    return " ".join(str(problem).split())[:200]
