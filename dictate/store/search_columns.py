"""What cases are searched by, in columns beside their documents.

The columns say nothing that the document does not: they are made from it. A file that an earlier
dictate made, or wrote to since, gets what it lacks when it is opened, in one transaction.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine

from dictate.text import folded

COLUMNS = ("opened_utc", "species", "animal", "clinician", "searched")
_INDEXED = ("opened_utc", "animal")


def instant(moment: datetime) -> str:
    """Return a moment as text that sorts by time, whatever its zone."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def columns_of(document: Mapping[str, Any]) -> dict[str, str]:
    """Return what a case is searched by, from its document: `searched` has all that words are
    looked for in, the others one thing each, folded. What a document lacks is ""; one without a
    time that can be read is as old as can be."""

    def stated(field: str) -> str:
        value = document.get(field, "")
        return folded(value.encode(errors="replace").decode()) if isinstance(value, str) else ""

    words = ("animal", "species", "breed", "owner_reference", "clinician", "id")
    return {
        "opened_utc": _opened(document.get("opened")),
        "species": stated("species"),
        "animal": stated("animal"),
        "clinician": stated("clinician"),
        "searched": "\n".join(stated(field) for field in words),
    }


def fill_search_columns(engine: Engine) -> None:
    """Add the columns where the file lacks them, and fill them for cases that lack them; all or
    nothing. Raises the errors of SQLAlchemy where the file cannot be read or written."""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as db:
        if not _lacking_columns(db) and not _any_unfilled(db):
            return
        db.exec_driver_sql("BEGIN IMMEDIATE")
        try:
            _add_columns(db)
            _fill(db)
            db.exec_driver_sql("COMMIT")
        except BaseException:
            db.exec_driver_sql("ROLLBACK")
            raise


def _lacking_columns(db: Connection) -> list[str]:
    there = {row[1] for row in db.exec_driver_sql("PRAGMA table_info(cases)")}
    return [column for column in COLUMNS if column not in there]


def _any_unfilled(db: Connection) -> bool:
    found = db.exec_driver_sql("SELECT 1 FROM cases WHERE opened_utc = '' LIMIT 1")
    return found.first() is not None


def _add_columns(db: Connection) -> None:
    for column in _lacking_columns(db):
        db.exec_driver_sql(f"ALTER TABLE cases ADD COLUMN {column} TEXT NOT NULL DEFAULT ''")
    for column in _INDEXED:
        db.exec_driver_sql(f"CREATE INDEX IF NOT EXISTS ix_cases_{column} ON cases ({column})")


def _fill(db: Connection) -> None:
    rows = db.exec_driver_sql("SELECT id, document FROM cases WHERE opened_utc = ''").all()
    filled = [(*columns_of(_document(text)).values(), case_id) for case_id, text in rows]
    if filled:
        set_all = ", ".join(f"{column} = ?" for column in COLUMNS)
        db.exec_driver_sql(f"UPDATE cases SET {set_all} WHERE id = ?", filled)


def _document(text: str) -> Mapping[str, Any]:
    """Return a document as it stands: also one of a newer dictate, or one that is damaged, must
    not keep the others from being found."""
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return document if isinstance(document, dict) else {}


def _opened(value: object) -> str:
    try:
        moment = datetime.fromisoformat(value) if isinstance(value, str) else datetime.min
        return instant(moment)
    except (ValueError, OverflowError):
        return instant(datetime(1, 1, 1, tzinfo=UTC))
