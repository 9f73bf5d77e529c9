"""The rows of cases and events: how they are read, and how new ones are made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from dictate.chart.case import Case
from dictate.chart.events import Event
from dictate.errors import DictateError
from dictate.integrity.chain import head_of, next_hash
from dictate.store.damage import REMEDY, DamagedError
from dictate.store.delivery import Delivery
from dictate.store.tables import CaseRow, EventRow


@dataclass(frozen=True)
class KeptEvent:
    """An event as it stands in the store: its number, its document, the hash that was kept with it,
    the delivery that it came with and its station; the last three may be None."""

    sequence: int
    document: str
    hash: str | None = None
    delivery: str | None = None
    station: str | None = None


def case_row(db: Session, case_id: str, locked: bool = False) -> CaseRow:
    """Return the row of a case, `locked` until the transaction ends; raise DictateError where there
    is none."""
    row = db.get(CaseRow, case_id, with_for_update=True if locked else None)
    if row is not None:
        return row
    # The index of a damaged file may lack it.
    if case_id in db.scalars(select(CaseRow.id.concat(""))):
        raise DamagedError(f"Case {case_id} is there and cannot be found. {REMEDY}")
    raise DictateError(f"There is no case {case_id}: see “dictate cases”.")


def read_case(case_id: str, document: str) -> Case:
    """Return the case of a document; raise DamagedError where it is none."""
    try:
        return Case.model_validate_json(document)
    except ValidationError as error:
        raise _unreadable(f"Case {case_id}") from error


def events_after(db: Session, case_id: str, number: int) -> tuple[Event, ...]:
    """Return the events of a case above a number, in order; raise DamagedError where one cannot be
    read."""
    return tuple(event for event, _ in kept_after(db, case_id, number))


def kept_after(db: Session, case_id: str, number: int) -> list[tuple[Event, str | None]]:
    """Return what `events_after` does, each event with the hash that was kept with it."""
    rows = (
        select(EventRow.sequence, EventRow.document, EventRow.hash)
        .where(EventRow.case_id == case_id, EventRow.sequence > number)
        .order_by(EventRow.sequence)
    )
    kept = []
    for sequence, document, digits in db.execute(rows):
        try:
            kept.append((Event.model_validate_json(document), digits))
        except ValidationError as error:
            raise _unreadable(f"Event {sequence} of case {case_id}") from error
    return kept


def _unreadable(what: str) -> DamagedError:
    return DamagedError(
        f"{what} cannot be read by this dictate: use a newer one; if there is none, it was damaged "
        f"or altered. {REMEDY}"
    )


def delivered_of(
    db: Session, case_id: str, deliveries: Sequence[Delivery]
) -> dict[str, tuple[int, ...]]:
    """Return, of those deliveries that a case holds, the numbers of their events by id."""
    ids = [each.id for each in deliveries]
    there = (
        select(EventRow.delivery, EventRow.sequence)
        .where(EventRow.case_id == case_id, EventRow.delivery.in_(ids))
        .order_by(EventRow.sequence)
    )
    numbers: dict[str, tuple[int, ...]] = {}
    for delivery, sequence in db.execute(there):
        numbers[str(delivery)] = (*numbers.get(str(delivery), ()), sequence)
    return numbers


def head_at(db: Session, case: Case, number: int) -> str:
    """Return the hash of a case up to an event. It is worked out where none was kept."""
    row = db.get(EventRow, (case.id, number)) if number else None
    if number and row is None:
        raise DictateError(f"Case {case.id} lacks events before {number + 1}: open it again.")
    if row is not None and row.hash is not None:
        return row.hash
    return head_of(case, events_after(db, case.id, 0))


def new_rows(
    case_id: str, head: str, deliveries: Sequence[Delivery], station: str | None
) -> Iterator[EventRow]:
    """Yield the rows of deliveries that follow on a chain, of which `head` is the last hash."""
    for delivery in deliveries:
        for each in delivery.events:
            head = next_hash(head, each)
            yield EventRow(
                case_id=case_id,
                sequence=each.sequence,
                document=each.model_dump_json(),
                hash=head,
                delivery=delivery.id,
                station=station,
            )
