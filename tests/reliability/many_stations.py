"""Chart at many stations on one database of a practice, and hold what was told against what it has.

    python -m tests.reliability.many_stations [--stations 20] [--seconds 60] [--seed 1]

A private PostgreSQL that syncs each commit to the disk is started, and every station is a process
of its own (`tests.reliability.station`). They chart phrases of a whole visit: one station on a
case, as many as asked for with a case each, in pairs, and all on one case; at a person's pace for
so many seconds, and a visit each as fast as it goes. In the last run the server is killed in the
middle and started again after a while. Delays are taken from the moment a phrase is due to the
moment it is told, which is after it is on the database's disk.

Exit code 1 where anything that was told is not in the database exactly once and in order, where
events are not as their hashes say, where a chart is not the fold of its events, and where a station
had an error to show.
"""

from __future__ import annotations

import argparse
import os
import signal
import statistics
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from threading import Event as Flag
from typing import Any

from sqlalchemy import NullPool, create_engine
from sqlalchemy.exc import SQLAlchemyError

from audio_fixtures.expected import typed
from dictate.chart.events import Event, Heard
from dictate.errors import DictateError
from dictate.integrity.verify import verify
from dictate.report.record_events import check_events
from dictate.store.cases import CaseStore
from tests.postgres import Postgres
from tests.reliability.station import ERROR, NEW, VISITED, WHOLE_VISIT, Account, Station, Told

PACE_S = 2.0
AWAY_S = 10.0
_CHANGED_AT_DELIVERY = {"of", "part_of", "statements"}
"""What an event says of the numbers of others, which are new after a delivery."""


@dataclass(frozen=True)
class Way:
    """How it is charted: by how many stations on each case, how many phrases each, one every
    `each_s` seconds (0: as fast as it goes), and how long the server is away in the middle."""

    name: str
    cases: tuple[int, ...]
    phrases: int
    each_s: float = 0.0
    away_s: float = 0.0


@dataclass
class Figures:
    """What a run came to; times are in seconds."""

    name: str
    took: float = 0.0
    events: int = 0
    connections: int = 0
    heard_again: int = 0
    away: int = 0
    asked_later: int = 0
    opened: list[float] = field(default_factory=list)
    delays: list[float] = field(default_factory=list)
    seen: list[float] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    outcomes: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    troubles: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        """Return the figures as lines."""
        said = len(self.delays)
        outcomes = ", ".join(f"{name} {number}" for name, number in self.outcomes.most_common())
        lines = [
            f"{self.name}: {said} utterances, {self.events} events in {self.took:.1f} s, "
            f"{said / self.took:.1f} and {self.events / self.took:.1f} a second",
            f"  opened: {_spread(self.opened)}",
            f"  said to told: {_spread(self.delays)}",
            f"  said to seen at another station: {_spread(self.seen)}",
            f"  {outcomes}; overtaken, and heard again once: {self.heard_again}; kept at the "
            f"station at first: {self.away}, asked about when delivered: {self.asked_later}",
            *(f"  {number} × {why}" for why, number in self.refused.most_common(6)),
            f"  memory of a station: at most {max(self.memory_mb):.0f} MB; connections: at most "
            f"{self.connections}",
            f"  lost, doubled or wrong: {len(self.troubles)}",
            *(f"  WRONG: {each}" for each in self.troubles),
        ]
        return "\n".join(lines)

    def take(self, told: Told) -> None:
        """Count what was told."""
        self.delays.append(told.told - told.due)
        self.heard_again += told.heard_again
        self.away += told.away
        self.outcomes[told.outcome] += 1
        if told.outcome in ("refused", ERROR):
            self.refused[f"{told.outcome}: {told.reason}"] += 1
        if told.outcome == ERROR:
            self.troubles.append(f"“{told.text}” ended in an error: {told.reason}")


def _spread(times: Sequence[float]) -> str:
    """Return the median, the 95th percentile and the worst of some times, in ms."""
    if len(times) < 2:
        return " ".join(f"{each * 1000:.0f} ms" for each in times) or "-"
    high = statistics.quantiles(times, n=20, method="inclusive")[-1]
    median = statistics.median(times)
    return f"{median * 1000:.0f} ms, 95 % {high * 1000:.0f} ms, worst {max(times) * 1000:.0f} ms"


def ways(stations: int, seconds: float) -> list[Way]:
    """Return what is measured side by side."""
    layouts = {
        "1 station": (1,),
        f"{stations} stations, a case each": (1,) * stations,
        f"{stations} stations in pairs": (2,) * (stations // 2),
        f"{stations} stations on one case": (stations,),
    }
    paced = round(seconds / PACE_S)
    pairs = layouts[f"{stations} stations in pairs"]
    return [
        *(Way(f"{name}, at a person's pace", cases, paced, PACE_S)
          for name, cases in layouts.items()),
        *(Way(f"{name}, as fast as it goes", cases, WHOLE_VISIT)
          for name, cases in layouts.items()),
        Way(f"{stations} stations in pairs, the server killed and away for {AWAY_S:.0f} s",
            pairs, paced, PACE_S, AWAY_S),
        Way(f"{stations} stations on one case, the server killed and away for {AWAY_S:.0f} s",
            (stations,), paced, PACE_S, AWAY_S),
    ]  # fmt: skip


class Process:
    """A station in a process of its own, with a data folder of its own."""

    def __init__(self, name: str, data: Path, database: str) -> None:
        data.mkdir()
        orders, given = os.pipe()
        told, answers = os.pipe()
        self._id = os.fork()
        if self._id == 0:
            os.environ |= {"DICTATE_DATA": str(data), "DICTATE_STORE": database}
            _be_a_station(name, orders, answers)
        os.close(orders)
        os.close(answers)
        self._orders, self._answers = os.fdopen(given, "w"), os.fdopen(told)

    def order(self, words: str) -> str:
        """Order something, and return what it answers."""
        self._orders.write(f"{words}\n")
        self._orders.flush()
        answer = self._answers.readline().strip()
        if not answer:
            raise RuntimeError(f"a station ended that was to “{words}”")
        return answer

    def end(self) -> None:
        """End it."""
        os.kill(self._id, signal.SIGKILL)
        os.waitpid(self._id, 0)
        self._orders.close()
        self._answers.close()


def _be_a_station(name: str, orders: int, answers: int) -> None:
    """Obey orders, and never return."""
    try:
        Station(name).obey(os.fdopen(orders), os.fdopen(answers, "w"))
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(1)


@contextmanager
def stations_of(way: Way, database: str, seed: int) -> Iterator[list[list[Process]]]:
    """Start the stations of each case, and end them."""
    with tempfile.TemporaryDirectory() as folder:
        data = (Path(folder) / str(number) for number in range(sum(way.cases)))
        started: list[list[Process]] = []
        try:
            for several in way.cases:
                started.append([])
                for _ in range(several):
                    here = next(data)
                    started[-1].append(Process(f"{here.name} {seed}", here, database))
            yield started
        finally:
            for each in chain(*started):
                each.end()


def run(postgres: Postgres, database: str, way: Way, seed: int) -> Figures:
    """Chart in an empty database, and return what came of it."""
    figures = Figures(way.name)
    with stations_of(way, database, seed) as started, ThreadPoolExecutor(1000) as pool:

        def order(whom: Sequence[Process], words: Sequence[str]) -> Iterator[str]:
            return pool.map(Process.order, whom, words)

        def opened(whom: Sequence[Process], words: Sequence[str]) -> list[str]:
            answers = [each.split() for each in order(whom, [f"open {each}" for each in words])]
            figures.opened += [float(took) for _, took in answers]
            return [case_id for case_id, _ in answers]

        case_ids = opened([first for first, *_ in started], [NEW] * len(started))
        pairs = list(zip(started, case_ids, strict=True))
        opened([e for _, *rest in started for e in rest],
               [case_id for (_, *rest), case_id in pairs for _ in rest])  # fmt: skip
        everybody = list(chain(*started))
        places = [place for each in started for place in range(len(each))]
        with counted_connections(database, figures):
            charting = order(everybody, [f"chart {p} {way.each_s} {way.phrases}" for p in places])
            if way.away_s:
                time.sleep(way.each_s * way.phrases / 3)
                postgres.kill()
                time.sleep(way.away_s)
                postgres.start()
            list(charting)
        answers = order(everybody, ["account"] * len(everybody))
        accounts = [Account.model_validate_json(each) for each in answers]
    store = CaseStore(database)
    for case_id in case_ids:
        hold_against(store, case_id, [a for a in accounts if a.case_id == case_id], figures)
    store.close()
    told = [each for account in accounts for each in account.told]
    for each in told:
        figures.take(each)
    figures.took = max(each.told for each in told) - min(each.due for each in told)
    figures.memory_mb = [each.memory_mb for each in accounts]
    return figures


@contextmanager
def counted_connections(database: str, figures: Figures) -> Iterator[None]:
    """Count how many connections of stations the server has at most."""
    engine = create_engine(database, poolclass=NullPool)
    over = Flag()
    counted = "SELECT count(*) FROM pg_stat_activity WHERE application_name = 'dictate'"

    def count() -> None:
        while not over.wait(0.5):
            with suppress(SQLAlchemyError), engine.connect() as db:
                there = int(db.exec_driver_sql(counted).scalar_one())
                figures.connections = max(figures.connections, there)

    with ThreadPoolExecutor(1) as pool:
        counting = pool.submit(count)
        try:
            yield
        finally:
            over.set()
            counting.result()


def hold_against(
    store: CaseStore, case_id: str, accounts: Sequence[Account], figures: Figures
) -> None:
    """Hold what stations told of a case against what the database has of it."""
    kept = store.as_kept(case_id)
    case, events = kept.case, kept.events
    figures.events += len(events)

    def wrong(sentence: str) -> None:
        figures.troubles.append(f"{case_id}: {sentence}")

    for trouble in verify(case, events, kept.hashes).troubles:
        wrong(trouble)
    if kept.trouble is not None:
        wrong(kept.trouble)
    if None in kept.hashes:
        wrong("an event has no hash")
    try:
        check_events(case, events)
    except DictateError as error:
        wrong(str(error))
    own = {each.station: store.of_other_stations(case_id, each.station) for each in accounts}
    due = {}
    for account in accounts:
        for trouble in account.troubles:
            wrong(trouble)
        here = [each for each in events if each.sequence not in own[account.station]]
        due |= _compared(account, here, wrong, figures)
    if sum(len(events) - len(others) for others in own.values()) != len(events):
        wrong("it has events of nobody")
    for account in accounts:
        figures.seen += [each.at - due[each.number] for each in account.seen if each.number in due]


def _compared(
    account: Account, here: Sequence[Event], wrong: Callable[[str], None], figures: Figures
) -> dict[int, float]:
    """Compare what a station told with what the database has of it, utterance by utterance; return
    when each was due, by its number there."""
    kept: dict[int, list[Event]] = {}
    for event in here:
        kept.setdefault(event.utterance, []).append(event)
    told = [each for each in account.told if each.events]
    times = Counter(each[0].time for each in kept.values())
    twice = Counter(each.events[0].time for each in told)
    for each in told:
        if (number := times[each.events[0].time]) != 1:
            wrong(f"“{each.text}” was told, and is there {number} times")
        if twice[each.events[0].time] > 1:
            wrong(f"“{each.text}” was told twice")
    if len(kept) > len(told):
        wrong(f"{len(kept) - len(told)} utterances are there that nobody told")
    due = {}
    for said, (number, found) in zip(told, kept.items(), strict=False):
        due[number] = said.due
        before, after = said.events[0].what, found[0].what
        assert isinstance(before, Heard) and isinstance(after, Heard)
        if said.events[0].time != found[0].time:
            wrong(f"“{said.text}” is not in its place")
        elif said.away and (before.outcome, after.outcome) == ("charted", "query"):
            figures.asked_later += 1
        elif list(map(_substance, said.events)) != list(map(_substance, found)):
            wrong(f"“{said.text}” is not there as it was told")
    return due


def _substance(event: Event) -> dict[str, Any]:
    return event.what.model_dump(exclude=_CHANGED_AT_DELIVERY)


def main() -> None:
    """Print the figures; exit code 1 where anything was lost, doubled or wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stations", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="the runs whose names have these words")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DICTATE_DATA"] = folder
        typed(VISITED)  # The grammars of each part are made when they are first needed.
    postgres = Postgres(fsync=True)
    troubles = 0
    try:
        postgres.start()
        for number, way in enumerate(ways(given.stations, given.seconds)):
            if given.only in way.name:
                figures = run(postgres, postgres.make_database(f"n{number}"), way, given.seed)
                print(figures, flush=True)
                troubles += len(figures.troubles)
    finally:
        postgres.remove()
    sys.exit(1 if troubles else 0)


if __name__ == "__main__":
    main()
