"""What cases are searched by, in columns beside their documents.

The columns say nothing that the document does not: they are made from it. Cases that an earlier
dictate made, or added since, get what they lack when the store is opened.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, text

from dictate.store.case_query import CaseQuery
from dictate.store.tables import CaseRow
from dictate.text import folded

COLUMNS = ("opened_utc", "species", "animal", "clinician", "searched")


def instant(moment: datetime) -> str:
    """Return a moment as text that sorts by time, whatever its zone."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def searchable(words: str) -> str:
    """Return a text as it is kept in a column, and looked for there: folded, and without what no
    database keeps."""
    return folded(words.encode(errors="replace").decode().replace("\0", ""))


def columns_of(document: Mapping[str, Any]) -> dict[str, str]:
    """Return what a case is searched by, from its document: `searched` has all that words are
    looked for in, the others one thing each, folded. What a document lacks is ""; one without a
    time that can be read is as old as can be."""

    def stated(field: str) -> str:
        value = document.get(field, "")
        return searchable(value) if isinstance(value, str) else ""

    words = ("animal", "species", "breed", "owner_reference", "clinician", "id")
    return {
        "opened_utc": _opened(document.get("opened")),
        "species": stated("species"),
        "animal": stated("animal"),
        "clinician": stated("clinician"),
        "searched": "\n".join(stated(field) for field in words),
    }


def any_unfilled(db: Connection) -> bool:
    """Return whether a case lacks what it is searched by."""
    found = db.exec_driver_sql("SELECT 1 FROM cases WHERE opened_utc = '' LIMIT 1")
    return found.first() is not None


def fill_search_columns(db: Connection) -> None:
    """Fill the columns of cases that lack them."""
    rows = db.exec_driver_sql("SELECT id, document FROM cases WHERE opened_utc = ''").all()
    filled = [{**columns_of(_document(kept)), "case_id": case_id} for case_id, kept in rows]
    if filled:
        set_all = ", ".join(f"{column} = :{column}" for column in COLUMNS)
        # Names of columns cannot be bound; these are the ones above.
        db.execute(text(f"UPDATE cases SET {set_all} WHERE id = :case_id"), filled)  # noqa: S608


def _document(kept: str) -> Mapping[str, Any]:
    """Return a document as it stands: also one of a newer dictate, or one that is damaged, must
    not keep the others from being found."""
    try:
        document = json.loads(kept)
    except (ValueError, RecursionError):
        return {}
    return document if isinstance(document, dict) else {}


def _opened(value: object) -> str:
    try:
        moment = datetime.fromisoformat(value) if isinstance(value, str) else datetime.min
        return instant(moment)
    except (ValueError, OverflowError):
        return instant(datetime(1, 1, 1, tzinfo=UTC))


def conditions_of(query: CaseQuery) -> list[ColumnElement[bool]]:
    """Return what a row has to fulfil to be one that a query looks for."""
    conditions: list[ColumnElement[bool]] = [
        CaseRow.searched.contains(searchable(word), autoescape=True) for word in query.words
    ]
    if query.species:
        conditions.append(CaseRow.species == searchable(query.species))
    if query.clinician:
        conditions.append(CaseRow.clinician.contains(searchable(query.clinician), autoescape=True))
    if query.since is not None:
        conditions.append(CaseRow.opened_utc >= instant(query.since))
    if query.until is not None:
        conditions.append(CaseRow.opened_utc < instant(query.until))
    return conditions
