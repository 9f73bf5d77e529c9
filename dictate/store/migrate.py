"""Brings a store up to date when it is opened: all of it or nothing, after a copy of a file was
kept aside."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from dictate.errors import DictateError
from dictate.store.address import StoreAddress
from dictate.store.database import WRITES
from dictate.store.search_columns import COLUMNS, any_unfilled, fill_search_columns

VERSIONS = ("1", "2", "3", "4")
"""The versions of the tables, each a file in `migrations/versions`."""

_NEWEST = VERSIONS[-1]
_VERSION_TABLE = "alembic_version"
_LOCK = 0x646963746174
"""The lock that one station takes at a time to bring a shared database up to date."""
_LIMITS = ("lock_timeout", "statement_timeout")
_WAIT_S = 120
"""How long bringing a large database up to date may take, and how long others wait for it."""
_TABLES_NAMED = {
    "sqlite": "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = :name",
    # Not to_regclass: a server's process remembers that there was no such table, and does not look
    # again after it waited for the lock while another station made it.
    "postgresql": "SELECT 1 FROM pg_catalog.pg_class"
    " WHERE relname = :name AND relkind = 'r' AND pg_catalog.pg_table_is_visible(oid)",
}


def bring_up_to_date(engine: Engine, address: StoreAddress) -> None:
    """Make the tables where there are none, and add what an earlier version of them lacks.

    Raises DictateError where a newer dictate made them, or where a file could not be copied; and
    the errors of SQLAlchemy. Then all is as it was.
    """
    with engine.connect() as db:
        if _version(db, address) == _NEWEST and not any_unfilled(db):
            return
    with engine.connect().execution_options(**WRITES) as db, db.begin():
        if address.file is None:
            for limit in _LIMITS:
                db.exec_driver_sql(f"SET LOCAL {limit} = '{_WAIT_S}s'")
            db.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")
        version = _version(db, address)
        if version != _NEWEST:
            if address.file is not None and version is not None:
                keep_aside(address.file, date.today())
            _upgrade(db, version)
        fill_search_columns(db)


def _version(db: Connection, address: StoreAddress) -> str | None:
    """Return the version of the tables, None where there are none."""
    if _has_table(db, _VERSION_TABLE):
        (version,) = db.exec_driver_sql(f"SELECT version_num FROM {_VERSION_TABLE}").one()  # noqa: S608
        if version not in VERSIONS:
            raise DictateError(
                f"{address.name} was brought up to date by a newer dictate (version {version} of "
                f"its tables, this one knows {_NEWEST}): use a newer dictate."
            )
        return str(version)
    if not _has_table(db, "cases"):
        return None
    there = {each["name"] for each in inspect(db).get_columns("cases")}
    return VERSIONS[1] if there.issuperset(COLUMNS) else VERSIONS[0]


def _has_table(db: Connection, name: str) -> bool:
    # Asked of the database itself: SQLAlchemy's inspector takes ten times as long, at every start.
    found = db.scalar(text(_TABLES_NAMED[db.dialect.name]), {"name": name})
    return found is not None


def _upgrade(db: Connection, version: str | None) -> None:
    # Alembic takes a moment to load, and most starts have nothing to bring up to date.
    from alembic import command
    from alembic.config import Config

    config = Config(attributes={"connection": db})
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    if version is not None:
        command.stamp(config, version)
    command.upgrade(config, "head")


def keep_aside(file: Path, today: date) -> Path:
    """Copy a file of SQLite as it is now beside itself, for its owner alone; return where it is.
    Raises DictateError where that cannot be."""
    copy = free_name(file, f"before-{today.isoformat()}")
    try:
        os.close(os.open(copy, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        with closing(sqlite3.connect(file)) as kept, closing(sqlite3.connect(copy)) as aside:
            kept.backup(aside)
    except (OSError, sqlite3.Error) as error:
        copy.unlink(missing_ok=True)
        raise DictateError(
            f"{file} has to be brought up to date, but no copy of it could be kept aside "
            f"({error}): make room, then try again."
        ) from error
    return copy


def copies_of(folder: Path) -> list[Path]:
    """Return the copies of the file of the cases, and lists of what is in them, that were kept
    aside in a folder."""
    return sorted([*folder.glob("cases-before-*"), *folder.glob("cases-damaged-*")])


def free_name(file: Path, words: str) -> Path:
    """Return a path beside a file, with words in its name, at which nothing is yet."""
    copy = file.with_name(f"{file.stem}-{words}{file.suffix}")
    number = 2
    while copy.exists():
        copy = file.with_name(f"{file.stem}-{words}-{number}{file.suffix}")
        number += 1
    return copy
