"""A case that one station has for itself for a moment."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy.orm import Session

from dictate.chart.events import Event
from dictate.chart.stations import BehindError
from dictate.errors import DictateError
from dictate.store.address import StoreAddress
from dictate.store.database import plain_errors
from dictate.store.delivery import Delivery
from dictate.store.rows import delivered_of, events_after, head_at, new_rows, read_case
from dictate.store.tables import CaseRow


class CaseAlone:
    """A case to which nobody else adds (`CaseStore.alone`). Its methods raise as those of the store
    do."""

    def __init__(self, db: Session, row: CaseRow, address: StoreAddress) -> None:
        self._db = db
        self._row = row
        self._address = address

    def events_after(self, number: int) -> tuple[Event, ...]:
        """Return the events whose sequence numbers are above that one."""
        with plain_errors(self._address):
            return events_after(self._db, self._row.id, number)

    def delivered(self, deliveries: Sequence[Delivery]) -> dict[str, tuple[int, ...]]:
        """Return, of those deliveries that the case holds, the numbers of their events by id."""
        with plain_errors(self._address):
            return delivered_of(self._db, self._row.id, deliveries)

    def deliver(self, deliveries: Sequence[Delivery], station: str | None = None) -> None:
        """As `CaseStore.deliver`; then others may add to the case again."""
        case_id = self._row.id
        taken = DictateError(f"Case {case_id} is being charted elsewhere: try again.")
        with plain_errors(self._address, taken):
            there = delivered_of(self._db, case_id, deliveries)
            fresh = [each for each in deliveries if each.id not in there]
            if fresh:
                before = fresh[0].events[0].sequence - 1
                if later := events_after(self._db, case_id, before):
                    raise BehindError(case_id, later)
                head = head_at(self._db, read_case(case_id, self._row.document), before)
                self._db.add_all(new_rows(case_id, head, fresh, station))
                self._row.last_event = fresh[-1].events[-1].sequence
            self._db.commit()
