"""Print how long practice data of many cases takes to read, export and ask.

    python -m tests.benchmarks.practice_data [--cases 10000] [--whole]

The cases are those of tests.benchmarks.store; with --whole each has a whole mouth probed. Figures
in s, once each, the size of what is written in MB, and the time in ms that importing DuckDB takes
in a fresh process.
"""

from __future__ import annotations

import argparse
import secrets
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TypeVar

from dictate.chart.anatomy import anatomy_of
from dictate.practice_data.collect import collected
from dictate.practice_data.counts import count_question
from dictate.practice_data.database import asked
from dictate.practice_data.export import write_tables
from dictate.store.case_query import query_of
from dictate.store.cases import CaseStore
from tests.benchmarks.store import SAID, fill

WHOLE_MOUTH = tuple(
    phrase
    for tooth in anatomy_of("dog").permanent_teeth
    for phrase in (
        f"{tooth} calculus 2 gingivitis 1 plaque 1",
        "buccal three two four",
        f"{'palatal' if tooth < 300 else 'lingual'} two two three",
    )
)

_Made = TypeVar("_Made")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--cases", type=int, default=10_000)
    arguments.add_argument("--whole", action="store_true")
    wanted = arguments.parse_args()
    number, said = wanted.cases, WHOLE_MOUTH if wanted.whole else SAID
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cases.sqlite"
        fill(path, number, said)
        store = CaseStore(path)
        data = timed(
            f"read {number} cases",
            lambda: collected(store, query_of(""), lambda: secrets.token_hex(8)),
        )
        for table, rows in data.tables.items():
            print(f"  {table}: {len(rows)} rows")
        out = Path(folder) / "out"
        written = timed("write Parquet and CSV", lambda: write_tables(data, out, date(2026, 5, 4)))
        print(f"{sum(each.stat().st_size for each in written) / 1e6:.1f} MB")
        question = count_question(["stage", "breed", "age"])
        timed("count by stage, breed and age", lambda: asked(data, question, 500))
    print(f"import duckdb, a fresh process: {imported_ms():.0f} ms")


def timed(what: str, do: Callable[[], _Made]) -> _Made:
    """Print how long something takes, and return what it makes."""
    begun, cpu = time.perf_counter(), time.process_time()
    made = do()
    took, of_cpu = time.perf_counter() - begun, time.process_time() - cpu
    print(f"{what:40} {took:7.1f} s, {of_cpu:7.1f} s of processor time", flush=True)
    return made


def imported_ms() -> float:
    code = "import time; t = time.perf_counter(); import duckdb; print(time.perf_counter() - t)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout) * 1000


if __name__ == "__main__":
    main()
