"""One station of `tests.reliability.many_stations`, in a process of its own.

It opens a case of the practice's database as the program does, charts phrases of a whole visit,
looks around once a second as the screen does, and gives an account of all that it told.

Orders come in a line each, and every one is answered by a line:

    open CASE                    answered by its id and the seconds that it took; “new” begins one
    chart PLACE EACH_S TIMES     TIMES phrases from the part of the visit numbered PLACE on, a
                                 phrase about every EACH_S; 0: as fast as it goes. Answered when
                                 all of it is in the database
    account                      answered by an Account, after all others had time to be seen
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import cycle, islice
from queue import Empty, Queue
from random import Random
from threading import Event as Flag
from threading import Thread
from typing import TextIO
from unittest.mock import patch

from pydantic import BaseModel

from audio_fixtures.texts import visit
from dictate import garbage
from dictate.cases.shared_case import Looked
from dictate.cases.stored import case_store, keep_new_case, load_case, station_id, stored_session
from dictate.chart.chart import blank_chart
from dictate.chart.events import Event, Heard
from dictate.chart.stations import chart_at_station
from dictate.errors import DictateError
from tests.reliability.audio_day import memory_mb

LOOK_EVERY_S = 1.0
"""As `dictate.screen.among_stations` does."""

DELIVERED_WITHIN_S = 120
SEEN_WITHIN_S = 20
VISITED = visit("whole_visit_dog")
WHOLE_VISIT = len(VISITED.script())
NEW = "new"
ERROR = "error"
_SHARE_OF_YES = 0.75


class Told(BaseModel):
    """A phrase, and what was told of it: `due` is when it was said and `told` when it was charted,
    by the machine's clock (s), `heard_again` whether others were before it, `away` whether it waits
    on the station's disk, `events` what was kept of it, none after an error."""

    text: str
    due: float
    told: float
    outcome: str
    reason: str | None
    heard_again: bool
    away: bool
    events: tuple[Event, ...]


class Seen(BaseModel):
    """When an utterance of another station was seen here (s), by its number in the case."""

    number: int
    at: float


class Account(BaseModel):
    """All that a station told and saw in one case, and what is wrong with it by its own looks."""

    station: str
    case_id: str
    told: tuple[Told, ...]
    seen: tuple[Seen, ...]
    memory_mb: float
    troubles: tuple[str, ...]


class Station:
    """A station that goes on looking around whatever it does, until its orders end."""

    def __init__(self, seed: str) -> None:
        self._chance = Random(seed)
        self._inbox: Queue[Looked | str] = Queue()
        self._taken = Flag()

    def obey(self, orders: TextIO, answers: TextIO) -> None:
        """Do what is ordered until nothing more comes."""
        Thread(target=self._read, args=(orders,), daemon=True).start()
        while order := self._next_order(None):
            match order.split():
                case ["open", case_id]:
                    took = self._open(case_id)
                    answer = f"{self._session.case.id} {took}"
                case ["chart", place, each_s, times]:
                    self._chart(int(place), float(each_s), int(times))
                    answer = "done"
                case _:
                    answer = self._account().model_dump_json()
            print(answer, file=answers, flush=True)

    def _read(self, orders: TextIO) -> None:
        for line in orders:
            self._inbox.put(line)
        self._inbox.put("")

    def _open(self, case_id: str) -> float:
        """Open a case as `dictate chart` does; return how long that took (s)."""
        begun = time.monotonic()
        self._store = case_store(may_be_away=True)
        if case_id == NEW:
            fields = {"species": VISITED.species, **VISITED.case}
            self._session = stored_session(self._store, keep_new_case(self._store, fields))
        else:
            self._session = stored_session(self._store, *load_case(self._store, case_id))
        took = time.monotonic() - begun
        garbage.look_only_at_what_is_new()
        self._told: list[Told] = []
        self._seen: list[Seen] = []
        self._known = self._session.others
        Thread(target=self._look_around, daemon=True).start()
        return took

    def _look_around(self) -> None:
        while True:
            time.sleep(LOOK_EVERY_S)
            self._inbox.put(self._session.shared.look(len(self._session.events)))
            self._taken.wait()
            self._taken.clear()

    def _next_order(self, until: float | None) -> str | None:
        """Take in what looks find until an order comes, or that time; then return None."""
        while True:
            left = None if until is None else max(0.0, until - time.monotonic())
            try:
                found = self._inbox.get(timeout=left)
            except Empty:
                return None
            if isinstance(found, str):
                return found
            self._session.shared.take(found)
            self._note_what_is_seen()
            self._taken.set()

    def _note_what_is_seen(self) -> None:
        now, others = time.monotonic(), self._session.others
        events = self._session.events if others != self._known else ()
        for number in sorted(others - self._known):
            if isinstance(events[number - 1].what, Heard):
                self._seen.append(Seen(number=number, at=now))
        self._known = others

    def _chart(self, place: int, each_s: float, times: int) -> None:
        due = time.monotonic() + self._chance.uniform(0, each_s)
        phrases = islice(cycle(_script_from(place)), times)
        for phrase in self._with_answers(phrases):
            self._next_order(due)
            self._say(phrase, due)
            if each_s:
                due += self._chance.uniform(0.5 * each_s, 1.5 * each_s)
            else:
                due = time.monotonic()
        until = time.monotonic() + DELIVERED_WITHIN_S
        while self._session.shared.problem and time.monotonic() < until:
            self._next_order(time.monotonic() + 0.1)

    def _with_answers(self, phrases: Iterator[str]) -> Iterator[str]:
        """Yield phrases, and an answer wherever something is asked."""
        for phrase in phrases:
            yield phrase
            while self._session.doubts_here:
                yield "yes" if self._chance.random() < _SHARE_OF_YES else "no"

    def _say(self, phrase: str, due: float) -> None:
        before = len(self._session.events)
        with patch.object(self._session, "alone", wraps=self._session.alone) as again:
            try:
                heard = self._session.type_text(phrase)
                outcome, reason = heard.outcome, heard.reason
            except DictateError as error:
                outcome, reason = ERROR, str(error)
        told = time.monotonic()
        self._note_what_is_seen()
        new = self._session.events[before:]
        self._told.append(
            Told(
                text=phrase,
                due=due,
                told=told,
                outcome=outcome,
                reason=reason,
                heard_again=again.called,
                away=self._session.shared.problem is not None,
                events=tuple(each for each in new if each.sequence not in self._known),
            )
        )

    def _account(self) -> Account:
        """Return what was told and seen, after others had time to be seen."""
        session, store = self._session, self._store
        until = time.monotonic() + SEEN_WITHIN_S
        case, events = store.load(session.case.id)
        while len(session.events) < len(events) and time.monotonic() < until:
            self._next_order(time.monotonic() + 0.1)
        troubles = []
        if session.shared.problem:
            troubles.append(session.shared.problem)
        if session.events != events:
            troubles.append("what it shows is not what the database holds")
        if session.others != store.of_other_stations(case.id, station_id()):
            troubles.append("it takes its own events for those of others")
        if session.chart != chart_at_station(blank_chart(case), events, session.others):
            troubles.append("its chart is not the fold of the events")
        store.close()
        return Account(
            station=station_id(),
            case_id=case.id,
            told=tuple(self._told),
            seen=tuple(self._seen),
            memory_mb=memory_mb(),
            troubles=tuple(troubles),
        )


def _script_from(place: int) -> list[str]:
    """Return the phrases of a visit from one of its parts on, and those before it at the end."""
    lines = VISITED.script()
    starts = [number for number, line in enumerate(lines) if line.startswith("go to ")]
    start = starts[place % len(starts)]
    return [*lines[start:], *lines[:start]]
