"""Cases and their events in SQLite: each event is on disk before it is shown."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError
from sqlalchemy import (
    ColumnElement,
    ForeignKey,
    Integer,
    String,
    Text,
    create_engine,
    event,
    exists,
    func,
    select,
)
from sqlalchemy.exc import DatabaseError, IntegrityError
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, mapped_column

from dictate.chart.case import Case
from dictate.chart.events import Event
from dictate.errors import DictateError
from dictate.store.case_query import CaseQuery
from dictate.store.search_columns import columns_of, fill_search_columns, instant
from dictate.text import folded


class _Base(DeclarativeBase):
    pass


class _CaseRow(_Base):
    __tablename__ = "cases"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    opened: Mapped[str] = mapped_column(String(40), index=True)
    document: Mapped[str] = mapped_column(Text)
    opened_utc: Mapped[str] = mapped_column(Text, index=True, server_default="")
    species: Mapped[str] = mapped_column(Text, server_default="")
    animal: Mapped[str] = mapped_column(Text, index=True, server_default="")
    clinician: Mapped[str] = mapped_column(Text, server_default="")
    searched: Mapped[str] = mapped_column(Text, server_default="")


class _EventRow(_Base):
    __tablename__ = "events"
    case_id: Mapped[str] = mapped_column(ForeignKey("cases.id"), primary_key=True)
    sequence: Mapped[int] = mapped_column(Integer, primary_key=True)
    document: Mapped[str] = mapped_column(Text)


@dataclass(frozen=True)
class CaseSummary:
    """A case and how many events it has."""

    case: Case
    events: int


@dataclass(frozen=True)
class CasesFound:
    """The first cases that were looked for, the one opened last first, and how many there are in
    all."""

    summaries: tuple[CaseSummary, ...]
    total: int


class CaseStore:
    """The cases of one database file.

    Every method raises DictateError, with a sentence for people, where the file cannot be read
    or written; then nothing of what was to be written is in it.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        with self._plain_errors():
            if not path.exists():
                os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
            self._engine = create_engine(f"sqlite:///{path}")
            event.listen(self._engine, "connect", _sync_each_commit)
            _Base.metadata.create_all(self._engine)
            fill_search_columns(self._engine)

    def add_case(self, case: Case, events: Sequence[Event] = ()) -> None:
        """Add a case with events that it has already, all or nothing; raise DictateError where
        one of that id exists."""
        row = _CaseRow(
            id=case.id,
            opened=case.opened.isoformat(),
            document=case.model_dump_json(),
            **columns_of(case.model_dump(mode="json")),
        )
        taken = f"A case {case.id} exists: choose another id."
        with self._plain_errors(taken), self._begin() as db:
            db.add(row)
            db.flush()
            db.add_all(_row(case.id, each) for each in events)

    def append(self, case_id: str, events: Sequence[Event]) -> None:
        """Add events at the end of a case, all or none; they are on disk on return.

        Raises DictateError where an event of the same number is there: someone else charts the
        same case.
        """
        taken = f"Case {case_id} is being charted elsewhere: close it there, then open it again."
        with self._plain_errors(taken), self._begin() as db:
            db.add_all(_row(case_id, each) for each in events)

    def load(self, case_id: str) -> tuple[Case, tuple[Event, ...]]:
        """Return a case and its events in order; raise DictateError where there is none."""
        with self._plain_errors(), self._begin() as db:
            row = db.get(_CaseRow, case_id)
            if row is None:
                raise DictateError(f"There is no case {case_id}: see “dictate cases”.")
            documents = db.scalars(
                select(_EventRow.document)
                .where(_EventRow.case_id == case_id)
                .order_by(_EventRow.sequence)
            )
            events = tuple(Event.model_validate_json(each) for each in documents)
            return Case.model_validate_json(row.document), events

    def cases(self) -> list[CaseSummary]:
        """Return all cases, the one opened last first."""
        return list(self.search(CaseQuery(), limit=None).summaries)

    def search(self, query: CaseQuery, limit: int | None = 200) -> CasesFound:
        """Return the cases that a query looks for, at most `limit` of them."""
        conditions = _conditions(query)
        # Events are numbered from 1 without gaps, so the last number is how many there are.
        events = (
            select(func.coalesce(func.max(_EventRow.sequence), 0))
            .where(_EventRow.case_id == _CaseRow.id)
            .correlate(_CaseRow)
            .scalar_subquery()
        )
        listed = (
            select(_CaseRow.document, events)
            .where(*conditions)
            .order_by(_CaseRow.opened_utc.desc(), _CaseRow.id)
            .limit(limit)
        )
        with self._plain_errors(), self._begin() as db:
            total = db.scalar(select(func.count()).select_from(_CaseRow).where(*conditions))
            found = [
                CaseSummary(Case.model_validate_json(document), number)
                for document, number in db.execute(listed)
            ]
            return CasesFound(tuple(found), total or 0)

    def namesakes_before(self, case: Case) -> list[Case]:
        """Return the cases of a species and a name, capital letters and accents aside, that were
        opened before this one and hold anything, the latest first: whether they are of the same
        animal is not known. Without a name there are none."""
        name = folded(case.animal)
        if not name:
            return []
        listed = (
            select(_CaseRow.document)
            .where(
                _CaseRow.animal == name,
                _CaseRow.species == case.species,
                _CaseRow.opened_utc < instant(case.opened),
                exists().where(_EventRow.case_id == _CaseRow.id),
            )
            .order_by(_CaseRow.opened_utc.desc(), _CaseRow.id)
        )
        with self._plain_errors(), self._begin() as db:
            return [Case.model_validate_json(document) for document in db.scalars(listed)]

    def fresh_id(self, opened: datetime, species: str) -> str:
        """Return an id that no case has, such as "20261125-dog-1"."""
        stem = f"{opened:%Y%m%d}-{species}-"
        with self._plain_errors(), self._begin() as db:
            taken = set(db.scalars(select(_CaseRow.id).where(_CaseRow.id.startswith(stem))))
        number = 1
        while f"{stem}{number}" in taken:
            number += 1
        return f"{stem}{number}"

    @contextmanager
    def _begin(self) -> Iterator[Session]:
        with Session(self._engine) as db, db.begin():
            yield db

    @contextmanager
    def _plain_errors(self, taken: str | None = None) -> Iterator[None]:
        try:
            yield
        except IntegrityError as error:
            raise DictateError(taken or f"{self._path} refuses an entry: {error.orig}.") from error
        except (DatabaseError, OSError) as error:
            cause = getattr(error, "orig", error)
            raise DictateError(
                f"{self._path} cannot be used ({cause}): check the disk, then try again."
            ) from error
        except ValidationError as error:
            raise DictateError(
                f"{self._path} holds an entry that this dictate cannot read: use a newer one."
            ) from error


def _row(case_id: str, event: Event) -> _EventRow:
    return _EventRow(case_id=case_id, sequence=event.sequence, document=event.model_dump_json())


def _sync_each_commit(connection: object, _record: object) -> None:
    cursor = connection.cursor()  # type: ignore[attr-defined]
    cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.close()


def _conditions(query: CaseQuery) -> list[ColumnElement[bool]]:
    conditions: list[ColumnElement[bool]] = [
        _CaseRow.searched.contains(word, autoescape=True) for word in query.words
    ]
    if query.species:
        conditions.append(_CaseRow.species == folded(query.species))
    if query.clinician:
        conditions.append(_CaseRow.clinician.contains(folded(query.clinician), autoescape=True))
    if query.since is not None:
        conditions.append(_CaseRow.opened_utc >= instant(query.since))
    if query.until is not None:
        conditions.append(_CaseRow.opened_utc < instant(query.until))
    return conditions
