"""Connections to the store, and what goes wrong with them in words for people."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

from pydantic import ValidationError
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import (
    DatabaseError,
    DBAPIError,
    IntegrityError,
    InterfaceError,
    InternalError,
    OperationalError,
    SQLAlchemyError,
)

from dictate.errors import DictateError
from dictate.store.address import StoreAddress
from dictate.store.damage import check_file, damaged_file, is_damage

WRITES = {"writes": True}
"""Marks a connection, or an engine, that writes."""

_CONNECT_S = 3
_ANSWER_MS = 5000
ALONE_MS = 3 * _ANSWER_MS
"""How long a station that says nothing to the server may keep a case from the others."""
_POSTGRESQL = {
    "connect_timeout": _CONNECT_S,
    "application_name": "dictate",
    "tcp_user_timeout": _ANSWER_MS,
    "keepalives_idle": 5,
    "keepalives_interval": 2,
    "keepalives_count": 2,
    # What is said to be kept is on the server's disk, and a lock that does not come is no answer.
    "options": f"-c synchronous_commit=on -c lock_timeout={_ANSWER_MS}"
    f" -c statement_timeout={3 * _ANSWER_MS}",
}
# A station asks one thing at a time, but for a look while something is kept: one connection stays.
_POOL = {"pool_size": 1, "max_overflow": 4, "pool_pre_ping": True}


class StoreAwayError(DictateError):
    """The practice's database cannot be reached, or does not answer; it may have kept what it was
    told last."""


def engine_of(address: StoreAddress) -> Engine:
    """Return what connects to a store. A file is made, for its owner alone, where it is missing;
    raises DamagedError where it is damaged."""
    if address.file is None:
        stated = address.url.query
        arguments = {key: value for key, value in _POSTGRESQL.items() if key not in stated}
        return create_engine(address.url, connect_args=arguments, **_POOL)
    check_file(address.file)
    if not address.file.exists():
        os.close(os.open(address.file, os.O_CREAT | os.O_RDWR, 0o600))
    engine = create_engine(address.url)
    event.listen(engine, "connect", _sync_each_commit)
    event.listen(engine, "begin", _begin)
    return engine


def _sync_each_commit(connection: object, _record: object) -> None:
    # Python's own transactions leave out changes of tables: `_begin` begins them.
    connection.isolation_level = None  # type: ignore[attr-defined]
    cursor = connection.cursor()  # type: ignore[attr-defined]
    cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    # What is deleted is overwritten with zeros.
    cursor.execute("PRAGMA secure_delete=ON")
    cursor.close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def plain_errors(address: StoreAddress, taken: DictateError | None = None) -> Iterator[None]:
    """Turn the errors of a database into one sentence; `taken` is that of an entry that is there.
    Raises StoreAwayError where a database of several stations cannot be reached."""
    try:
        yield
    except IntegrityError as error:
        refused = f"{address.name} refuses an entry: {_cause(address, error)}."
        raise taken or DictateError(refused) from error
    except (SQLAlchemyError, OSError, UnicodeDecodeError) as error:
        raise _in_words(address, error) from error
    except ValidationError as error:
        raise DictateError(
            f"{address.name} holds an entry that this dictate cannot read: use a newer one."
        ) from error


def _in_words(address: StoreAddress, error: Exception) -> DictateError:
    cause = _cause(address, error)
    if address.file is not None and is_damage(getattr(error, "orig", error)):
        return damaged_file(address.file, cause)
    if address.file is not None:
        return DictateError(
            f"{address.name} cannot be used ({cause}): check the disk, then try again."
        )
    if _is_away(error):
        return StoreAwayError(
            f"The practice's {address.name} does not answer ({cause}): check that it runs and "
            "that this machine reaches it, then try again."
        )
    return DictateError(
        f"The practice's {address.name} cannot be used ({cause}): ask who looks after it."
    )


def _is_away(error: Exception) -> bool:
    lost = isinstance(error, DBAPIError) and error.connection_invalidated
    return lost or isinstance(error, OperationalError | InterfaceError | InternalError | OSError)


def _cause(address: StoreAddress, error: Exception) -> str:
    """Return what a database says, on one line, without the password."""
    said = getattr(error, "orig", None) if isinstance(error, DatabaseError | DBAPIError) else None
    lines = str(said or error).strip().splitlines()
    return address.without_secrets(lines[0] if lines else type(error).__name__).rstrip(".:")
