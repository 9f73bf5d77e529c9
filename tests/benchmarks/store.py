"""Print how long a store of many cases takes to open and to search.

    python -m tests.benchmarks.store [--cases 10000] [--rounds 30] [--postgresql]

The cases are invented, with the events of a short visit each. Figures in ms, median and 95th
percentile: opening with the first page of the list, searches
by animal, owner, clinician and month, one that nothing fits, the earlier visits of an animal, and a
visit read and compared with the one before. Once each: filling in the columns of a file that an
earlier dictate made, and the size of the file. With --postgresql the same on a private PostgreSQL,
which takes the cases of that file.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from random import Random

from sqlalchemy import create_engine

from dictate.cases.visits import side_by_side, stored_visit, visits_before
from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.case_query import query_of
from dictate.store.cases import CaseStore
from dictate.store.tables import Base
from tests.postgres import Postgres

LIMIT_MS = 200
SEARCHES = ("mila", "zoe", "k-1042", "ada lind", "2026-03", "siamese zoe", "nothing has this")
SAID = (
    "208 calculus 2 gingivitis 1",
    "buccal three two three",
    "pocket 5 mesial",
    "309 calculus 1 pocket 4",
    "404 missing",
    "104 to 102 calculus 1",
)
ANIMALS = ("Mila", "Zoë", "Max", "Luna", "Åsa", "Bo", "Flint", "Brindle", "Fips", "Nala", "Otto")
BREEDS = {"dog": ("Border Collie", "Pug", "", "Whippet"), "cat": ("Siamese", "", "Birman")}
CLINICIANS = ("Dr. Ada Lind", "Dr. Ann Vale", "Dr. Finn Hay")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--cases", type=int, default=10_000)
    arguments.add_argument("--rounds", type=int, default=30)
    arguments.add_argument("--postgresql", action="store_true")
    asked = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cases.sqlite"
        events = fill(path, asked.cases)
        size_mb = path.stat().st_size / 1e6
        print(f"{asked.cases} cases, {events} events each, {size_mb:.0f} MB")
        if asked.postgresql:
            measure_postgresql(path, asked.rounds)
        else:
            measure_all(path, asked.rounds)


def invented(number: int, random: Random) -> Case:
    """Return a case; about every third is another visit of an animal that came before."""
    owner = random.randrange(3000)
    species = "dog" if owner % 2 else "cat"
    return Case(
        id=f"case-{number}",
        species=species,
        opened=datetime(2026, 5, 4, 9, tzinfo=UTC) - timedelta(hours=5 * number),
        animal=ANIMALS[owner % len(ANIMALS)],
        breed=BREEDS[species][owner % len(BREEDS[species])],
        clinician=random.choice(CLINICIANS),
        owner_reference=f"K-{owner}",
    )


def fill(path: Path, number: int, said: Sequence[str] = SAID) -> int:
    """Write a file as an earlier dictate would have, then let the store fill in its columns."""
    random = Random(1)
    session = Session(
        Case(id="case-0", species="dog", opened=datetime.now(UTC)), spoken_languages()
    )
    for phrase in said:
        session.type_text(phrase)
    events = [(event.sequence, event.model_dump_json()) for event in session.events]
    cases = [invented(each, random) for each in range(number)]
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE cases (id VARCHAR(64) NOT NULL PRIMARY KEY, "
                   "opened VARCHAR(40) NOT NULL, document TEXT NOT NULL)")  # fmt: skip
        db.execute("CREATE TABLE events (case_id VARCHAR(64) NOT NULL REFERENCES cases (id), "
                   "sequence INTEGER NOT NULL, document TEXT NOT NULL, "
                   "PRIMARY KEY (case_id, sequence))")  # fmt: skip
        db.executemany(
            "INSERT INTO cases VALUES (?, ?, ?)",
            [(each.id, each.opened.isoformat(), each.model_dump_json()) for each in cases],
        )
        for case in cases:
            rows = [(case.id, *event) for event in events]
            db.executemany("INSERT INTO events VALUES (?, ?, ?)", rows)
    db.close()
    begun = time.perf_counter()
    CaseStore(path)
    took_ms = (time.perf_counter() - begun) * 1000
    print(f"{'columns added to an old file, once':56} {took_ms:8.1f} ms")
    return len(events)


def measure_postgresql(path: Path, rounds: int) -> None:
    """Copy the tables of a file into a PostgreSQL, and measure there."""
    cluster = Postgres()
    try:
        cluster.start()
        url = cluster.make_database("cases")
        CaseStore(url).close()
        source, target = create_engine(f"sqlite:///{path}"), create_engine(url)
        with source.connect() as there, target.begin() as here:
            for table in Base.metadata.sorted_tables:
                rows = [dict(row) for row in there.execute(table.select()).mappings()]
                here.execute(table.insert(), rows)
            # As the server does by itself within a minute.
            here.exec_driver_sql("ANALYZE")
        measure_all(url, rounds)
    finally:
        cluster.remove()


def measure_all(path: Path | str, rounds: int) -> None:
    with_earlier = pair(CaseStore(path))
    print(f"{'':56} {'median':>8}    {'95 %':>8}")
    store = CaseStore(path)
    every = query_of("")
    measure("open, and the first page of the list", rounds, lambda: CaseStore(path).search(every))
    for words in SEARCHES:
        query = query_of(words)
        what = f"search “{words}” ({store.search(query).total} found)"
        measure(what, rounds, partial(store.search, query))
    measure("earlier visits of an animal", rounds, lambda: visits_before(store, with_earlier[0]))
    measure(
        "a visit read, and compared with the one before",
        rounds,
        lambda: side_by_side(store, stored_visit(store, with_earlier[0].id), with_earlier[1].id),
    )


def pair(store: CaseStore) -> tuple[Case, Case]:
    """Return a case that has an earlier visit, and that visit."""
    for summary in store.search(query_of("")).summaries:
        last = visits_before(store, summary.case).last
        if last is not None:
            return summary.case, last.case
    raise LookupError("no animal came twice: fill in more cases")


def measure(what: str, rounds: int, do: Callable[[], object]) -> None:
    """Print the median and the 95th percentile of doing something, in ms."""
    took: list[float] = []
    for _ in range(rounds):
        begun = time.perf_counter()
        do()
        took.append((time.perf_counter() - begun) * 1000)
    high = statistics.quantiles(took, n=20)[-1]
    late = f"  over {LIMIT_MS} ms" if high > LIMIT_MS else ""
    print(f"{what:56} {statistics.median(took):8.1f} ms {high:8.1f} ms{late}")


if __name__ == "__main__":
    main()
