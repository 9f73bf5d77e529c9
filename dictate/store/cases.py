"""Cases and their events in a database: each event is on disk before it is shown."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine, delete, exists, func, select, text
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from dictate.chart.case import Case
from dictate.chart.events import Event
from dictate.errors import CaseExistsError, DictateError
from dictate.integrity.broken import chain_troubles
from dictate.integrity.chain import case_hash, hashes_of
from dictate.store.address import address_of
from dictate.store.alone import CaseAlone
from dictate.store.case_query import CaseQuery
from dictate.store.damage import REMEDY, DamagedError, check_file
from dictate.store.database import ALONE_MS, WRITES, StoreAwayError, engine_of, plain_errors
from dictate.store.delivery import Delivery, delivery_of
from dictate.store.migrate import bring_up_to_date
from dictate.store.rows import (
    KeptEvent,
    case_row,
    delivered_of,
    events_after,
    kept_after,
    new_rows,
    read_case,
)
from dictate.store.search_columns import columns_of, conditions_of, instant, searchable
from dictate.store.tables import CaseRow, EventRow


@dataclass(frozen=True)
class CaseSummary:
    """A case and how many events it has."""

    case: Case
    events: int


@dataclass(frozen=True)
class KeptCase:
    """A case as it stands in the store, whether or not it is whole: its events in order, the hash
    that was kept with each (None where an earlier dictate kept none), and what says that something
    of it was damaged or altered, None where nothing does."""

    case: Case
    events: tuple[Event, ...]
    hashes: tuple[str | None, ...]
    trouble: str | None


@dataclass(frozen=True)
class CasesFound:
    """The first cases that were looked for, the one opened last first, and how many there are in
    all."""

    summaries: tuple[CaseSummary, ...]
    total: int


class CaseStore:
    """The cases of one database: a file of SQLite, or the URL of a PostgreSQL that several
    stations share. It is made, or brought up to date, when it is opened; a database that
    `may_be_away`, when it is first there.

    Every method raises DictateError, with a sentence for people, where it cannot be read or
    written, StoreAwayError where a shared one cannot be reached; then nothing of what was to be
    written is in it, unless its last answer was lost (`deliver`).
    """

    def __init__(self, store: Path | str, may_be_away: bool = False) -> None:
        self._address = address_of(store)
        self._is_ready = False
        try:
            with self._plain_errors():
                self._engine = engine_of(self._address)
                self._writing = self._engine.execution_options(**WRITES)
                self._make_ready()
        except StoreAwayError:
            if not may_be_away:
                raise

    @property
    def is_shared(self) -> bool:
        """Whether other machines may chart in it."""
        return self._address.file is None

    def close(self) -> None:
        """Let go of the connections."""
        self._engine.dispose()

    def add_case(self, case: Case, events: Sequence[Event] = ()) -> None:
        """Add a case with events that it has already, all or nothing; raise CaseExistsError where
        there is one of that id."""
        rows = new_rows(case.id, case_hash(case), [delivery_of(events)], None) if events else ()
        self._add(case, list(rows))

    def put_back(self, case: Case, events: Sequence[KeptEvent]) -> None:
        """Add a case as it stood in another store; raise CaseExistsError where there is one of that
        id."""
        self._add(case, [EventRow(case_id=case.id, **vars(each)) for each in events])

    def append(self, case_id: str, events: Sequence[Event]) -> None:
        """Add events at the end of a case, all or none; they are on disk on return. Raises
        BehindError where the case holds more than they follow on."""
        self.deliver(case_id, [delivery_of(events)])

    def deliver(
        self, case_id: str, deliveries: Sequence[Delivery], station: str | None = None
    ) -> None:
        """Add what was charted at a station at the end of a case, all or none; it is on disk on
        return. What was delivered before is left out: where StoreAwayError was raised, the same
        delivery may be tried again.

        Raises BehindError, with what came in between, where the case holds more than it follows on.
        """
        with self.alone(case_id) as alone:
            alone.deliver(deliveries, station)

    @contextmanager
    def alone(self, case_id: str) -> Iterator[CaseAlone]:
        """Keep others from adding to a case, in a shared database until something is delivered or
        for a few seconds at most: what follows on its events now is delivered for certain."""
        db = Session(self._writing)
        try:
            with self._plain_errors():
                self._make_ready()
                if self.is_shared:
                    db.execute(text(f"SET LOCAL idle_in_transaction_session_timeout = {ALONE_MS}"))
                row = case_row(db, case_id, locked=True)
            yield CaseAlone(db, row, self._address)
        finally:
            # What was delivered is kept by now: a connection that broke since takes nothing away.
            with suppress(SQLAlchemyError):
                db.close()

    def delivered(self, case_id: str, deliveries: Sequence[Delivery]) -> dict[str, tuple[int, ...]]:
        """Return, of those deliveries that the case holds, the numbers of their events by id."""
        with self._plain_errors(), self._begin() as db:
            return delivered_of(db, case_id, deliveries)

    def delete_cases(self, case_ids: Sequence[str]) -> bool:
        """Delete cases with their events, all or none, and return whether nothing of them is left
        in the file: False where another program, that has it open, must be closed first."""
        with self._plain_errors(), self._write() as db:
            db.execute(delete(EventRow).where(EventRow.case_id.in_(case_ids)))
            db.execute(delete(CaseRow).where(CaseRow.id.in_(case_ids)))
        return _swept(self._engine)

    def load(self, case_id: str) -> tuple[Case, tuple[Event, ...]]:
        """Return a case and its events in order; raise DictateError where there is none,
        DamagedError where it is not what was kept."""
        kept = self.as_kept(case_id)
        if kept.trouble is None:
            return kept.case, kept.events
        raise DamagedError(f"Case {case_id} was damaged or altered: {kept.trouble} {REMEDY}")

    def as_kept(self, case_id: str) -> KeptCase:
        """Return a case as it stands, and what is wrong with it; raise DictateError where there is
        none, DamagedError where an event cannot be read at all."""
        with self._plain_errors(), self._begin() as db:
            row = case_row(db, case_id)
            case, stated, last_event = read_case(row.id, row.document), row.hash, row.last_event
            # After the number of the last one, so that what comes in between is none too few.
            kept = kept_after(db, case_id, 0)
        events = tuple(event for event, _ in kept)
        hashes = tuple(digits for _, digits in kept)
        troubles = list(chain_troubles(events, list(hashes_of(case, events)), hashes))
        if stated not in (None, case_hash(case)):
            troubles.insert(0, "what it states of the animal is not what was kept.")
        if len(events) < last_event:
            troubles.append(f"the last of its {last_event} events are missing.")
        return KeptCase(case, events, hashes, next(iter(troubles), None))

    def events_after(self, case_id: str, number: int) -> tuple[Event, ...]:
        """Return the events of a case whose sequence numbers are above that one."""
        with self._plain_errors(), self._begin() as db:
            return events_after(db, case_id, number)

    def of_other_stations(self, case_id: str, station: str) -> frozenset[int]:
        """Return the sequence numbers of the events of a case that other stations charted."""
        elsewhere = select(EventRow.sequence).where(
            EventRow.case_id == case_id, EventRow.station != station
        )
        with self._plain_errors(), self._begin() as db:
            return frozenset(db.scalars(elsewhere))

    def check(self) -> int:
        """Read every case, and return how many there are; raise DamagedError at the first that is
        not what was kept."""
        if self._address.file is not None:
            check_file(self._address.file, most_bytes=None)
        ids = self.ids()
        for case_id in ids:
            self.load(case_id)
        return len(ids)

    def summary(self, case_id: str) -> CaseSummary:
        """Return a case and how many events it has, also where they were damaged; raise
        DictateError where there is none."""
        with self._plain_errors(), self._begin() as db:
            row = case_row(db, case_id)
            return CaseSummary(read_case(row.id, row.document), row.last_event)

    def ids(self) -> list[str]:
        """Return the ids of all cases."""
        with self._plain_errors(), self._begin() as db:
            return list(db.scalars(select(CaseRow.id).order_by(CaseRow.id)))

    def cases(self) -> list[CaseSummary]:
        """Return all cases, the one opened last first."""
        return list(self.search(CaseQuery(), limit=None).summaries)

    def search(self, query: CaseQuery, limit: int | None = 200) -> CasesFound:
        """Return the cases that a query looks for, at most `limit` of them."""
        conditions = conditions_of(query)
        listed = (
            # Events are numbered from 1 without gaps, so the last number is how many there are.
            select(CaseRow.id, CaseRow.document, CaseRow.last_event)
            .where(*conditions)
            .order_by(CaseRow.opened_utc.desc(), CaseRow.id)
            .limit(limit)
        )
        with self._plain_errors(), self._begin() as db:
            total = db.scalar(select(func.count()).select_from(CaseRow).where(*conditions))
            found = [
                CaseSummary(read_case(case_id, document), number)
                for case_id, document, number in db.execute(listed)
            ]
            return CasesFound(tuple(found), total or 0)

    def namesakes_before(self, case: Case) -> list[Case]:
        """Return the cases of a species and a name, capital letters and accents aside, that were
        opened before this one and hold anything, the latest first: whether they are of the same
        animal is not known. Without a name there are none."""
        name = searchable(case.animal)
        if not name:
            return []
        listed = (
            select(CaseRow.id, CaseRow.document)
            .where(
                CaseRow.animal == name,
                CaseRow.species == case.species,
                CaseRow.opened_utc < instant(case.opened),
                exists().where(EventRow.case_id == CaseRow.id),
            )
            .order_by(CaseRow.opened_utc.desc(), CaseRow.id)
        )
        with self._plain_errors(), self._begin() as db:
            return [read_case(case_id, document) for case_id, document in db.execute(listed)]

    def fresh_id(self, opened: datetime, species: str, not_these: Iterable[str] = ()) -> str:
        """Return an id that no case has and that is none of `not_these`, as "20261125-dog-1"."""
        stem = f"{opened:%Y%m%d}-{species}-"
        with self._plain_errors(), self._begin() as db:
            taken = set(db.scalars(select(CaseRow.id).where(CaseRow.id.startswith(stem))))
        taken.update(not_these)
        number = 1
        while f"{stem}{number}" in taken:
            number += 1
        return f"{stem}{number}"

    def _add(self, case: Case, events: Sequence[EventRow]) -> None:
        row = CaseRow(
            id=case.id,
            opened=case.opened.isoformat(),
            document=case.model_dump_json(),
            hash=case_hash(case),
            last_event=len(events),
            **columns_of(case.model_dump(mode="json")),
        )
        taken = CaseExistsError(f"A case {case.id} exists: choose another id.")
        with self._plain_errors(taken), self._write() as db:
            db.add(row)
            db.flush()
            db.add_all(events)

    def _make_ready(self) -> None:
        if not self._is_ready:
            bring_up_to_date(self._engine, self._address)
            self._is_ready = True

    @contextmanager
    def _begin(self) -> Iterator[Session]:
        self._make_ready()
        with Session(self._engine) as db, db.begin():
            yield db

    @contextmanager
    def _write(self) -> Iterator[Session]:
        self._make_ready()
        with Session(self._writing) as db, db.begin():
            yield db

    def _plain_errors(self, taken: DictateError | None = None) -> AbstractContextManager[None]:
        return plain_errors(self._address, taken)


def _swept(engine: Engine) -> bool:
    """Close the gaps that deleting left in a file of SQLite and empty its log, which holds what
    stood before; return whether that could be done. Other databases do so by themselves."""
    if engine.dialect.name != "sqlite":
        return True
    connection = engine.raw_connection()
    try:
        cursor = connection.cursor()
        cursor.execute("VACUUM")
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        swept = cursor.fetchone()
        return swept is not None and swept[0] == 0
    except sqlite3.DatabaseError:
        return False
    finally:
        connection.close()
