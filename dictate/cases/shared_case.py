"""A case that several stations chart: what is charted here is kept in the store, or in the spool
while the practice's database is away or a file is damaged, and what others chart is fetched."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

from dictate.cases.merging import merged
from dictate.chart.case import Case, shown
from dictate.chart.events import Event
from dictate.chart.stations import BehindError
from dictate.errors import DictateError
from dictate.session.session import Session
from dictate.store.alone import CaseAlone
from dictate.store.cases import CaseStore
from dictate.store.damage import DamagedError
from dictate.store.database import StoreAwayError
from dictate.store.delivery import delivery_of
from dictate.store.spool import Known, Spool, Spooled

AWAY = "The practice's database is away: charted here, and delivered when it is back."


@dataclass(frozen=True)
class Looked:
    """What a look into the store found: events that may be new, or that it is `away`."""

    events: tuple[Event, ...] = ()
    away: bool = False


@dataclass(frozen=True)
class Delivered:
    """A case after its spool was delivered: all its events, and the numbers of those that other
    stations charted."""

    events: tuple[Event, ...]
    others: frozenset[int]


class SharedCase:
    """One case at one station. `session` is what charts it, told after it was made.

    While something waits in the spool, all goes there, so that the order stays.
    """

    session: Session

    def __init__(self, store: CaseStore, case: Case, spool: Spool, station: str) -> None:
        self._store = store
        self._case = case
        self._spool = spool
        self._station = station
        self._away = False
        self._alone: CaseAlone | None = None
        self._trouble: str | None = None

    @property
    def problem(self) -> str | None:
        """What people have to know of the database, None where all is well."""
        if self._spool.is_open or self._away:
            return self._trouble or AWAY
        return None

    def open(self, events: Sequence[Event]) -> Delivered:
        """Return the case as charting begins: `events` are those that were read of it. What waits
        since the database was away is delivered, or goes on waiting."""
        if self._spool.is_there:
            spooled = self._spool.open()
            try:
                return deliver_spool(self._store, self._case.id, self._spool, self._station)
            except StoreAwayError:
                self._away = True
                return Delivered(spooled.events, frozenset(spooled.known.others))
            except DictateError:
                self._spool.close()
                raise
        others = self._store.of_other_stations(self._case.id, self._station) if events else ()
        return Delivered(tuple(events), frozenset(others))

    def save(self, events: Sequence[Event]) -> None:
        """Keep the events of an utterance, on disk on return. Raises BehindError where another
        station charted meanwhile, DictateError where they can be kept nowhere."""
        delivery = delivery_of(events)
        if self._spool.is_open:
            return self._spool.add(delivery)
        if not self._away:
            try:
                if self._alone is not None:
                    return self._alone.deliver([delivery], self._station)
                return self._store.deliver(self._case.id, [delivery], self._station)
            except StoreAwayError:
                self._away = True
            except DamagedError as error:
                self._trouble = f"Charted here, and kept aside: {error}"
        others = tuple(sorted(self.session.others))
        known = Known(case=self._case, events=self.session.events, others=others)
        self._spool.begin(known, delivery)

    @contextmanager
    def alone(self) -> Iterator[tuple[Event, ...]]:
        """Keep other stations from charting the case until something is saved, and yield what they
        charted that the session lacks; while the database is away nobody has to be kept."""
        with ExitStack() as held:
            later: tuple[Event, ...] = ()
            try:
                self._alone = held.enter_context(self._store.alone(self._case.id))
                later = self._alone.events_after(len(self.session.events))
            except StoreAwayError:
                self._away = True
            except DamagedError:
                pass  # `save` meets it again, and keeps what is said aside.
            try:
                yield later
            finally:
                self._alone = None

    def look(self, after: int) -> Looked:
        """Return the events of the store after that number. It may wait for the database, and
        changes nothing here: for a thread of its own."""
        try:
            return Looked(self._store.events_after(self._case.id, after))
        except StoreAwayError:
            return Looked(away=True)
        except DictateError:
            # A file that is busy, or damaged, is told of when something is to be kept in it.
            return Looked()

    def take(self, looked: Looked) -> bool:
        """Take in what a look found, and deliver what waits; return whether the session changed.
        Raises DictateError where something cannot be delivered: then it goes on waiting."""
        self._away = looked.away
        if looked.away:
            return False
        if not self._spool.is_open:
            return self.session.catch_up(looked.events)
        try:
            delivered = deliver_spool(self._store, self._case.id, self._spool, self._station)
        except StoreAwayError:
            self._away = True
            return False
        except DictateError as error:
            self._trouble = f"Charted here, but it cannot be delivered: {error}"
            return False
        self._trouble = None
        self.session.begin_again(delivered.events, self.session.others | delivered.others)
        return True


def deliver_spool(store: CaseStore, case_id: str, spool: Spool, station: str) -> Delivered:
    """Deliver what waits in a spool that is open, in order, and take the spool away; however often
    it is tried, each utterance is kept once. Raises DictateError where it cannot be done: then all
    of it goes on waiting."""
    spooled = spool.read()
    case, events = _load(store, case_id, spooled.known)
    there = store.delivered(case_id, spooled.deliveries)
    new = merged(case, spooled.known.events, events, spooled.deliveries, there)
    try:
        store.deliver(case_id, new, station)
    except BehindError:
        with store.alone(case_id) as alone:
            events = alone.events_after(0)
            there = alone.delivered(spooled.deliveries)
            new = merged(case, spooled.known.events, events, spooled.deliveries, there)
            alone.deliver(new, station)
    others = store.of_other_stations(case_id, station)
    spool.remove()
    added = (each for delivery in new for each in delivery.events)
    return Delivered((*events, *added), _known(others, spooled, len(events)))


def _load(store: CaseStore, case_id: str, known: Known) -> tuple[Case, tuple[Event, ...]]:
    """Return a case and its events. What a store lost of what was known here, since a file was
    saved from damage or an old backup was put in its place, is put back."""
    if not store.is_shared and case_id not in store.ids():
        store.add_case(known.case, known.events)
    case, events = store.load(case_id)
    if case != known.case:
        raise DictateError(
            f"Case {case_id} is another one now than the one that was charted here, of "
            f"{shown(known.case.animal)}: what waits of it goes nowhere; ask for help."
        )
    if len(events) < len(known.events) and events == known.events[: len(events)]:
        store.append(case_id, known.events[len(events) :])
        return case, known.events
    return case, events


def _known(others: Collection[int], spooled: Spooled, number: int) -> frozenset[int]:
    here = (*others, *spooled.known.others)
    return frozenset(each for each in here if each <= number)
