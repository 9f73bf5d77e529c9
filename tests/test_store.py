import os
import signal
import sqlite3
import stat
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from dictate.chart.case import Case
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.cases import CaseStore
from dictate.store.damage import DamagedError

OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
CASE = Case(id="brindle", species="dog", opened=OPENED, animal="Brindle")

WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.cases import CaseStore

store = CaseStore(Path(sys.argv[1]))
case, events = store.load("brindle")
session = Session(case, spoken_languages(), events, save=lambda new: store.append(case.id, new))
for number in range(10_000):
    tooth = (201, 202, 203, 204)[number % 4]
    session.type_text(f"{tooth} pocket {number % 9}")
    session.type_text("yes")
    print(len(session.events), flush=True)
"""


@pytest.fixture
def store(tmp_path: Path) -> CaseStore:
    return CaseStore(tmp_path / "cases.sqlite")


def charting(store: CaseStore) -> Session:
    case, events = store.load("brindle")
    return Session(
        case,
        spoken_languages(),
        events,
        save=lambda new: store.append(case.id, new),
        now=lambda: OPENED,
    )


def test_a_case_reopened_shows_all_that_was_shown(store):
    store.add_case(CASE)
    session = charting(store)
    for phrase in ("208 calculus 2", "hello", "pocket 5 mesial", "pocket 6 mesial", "undo"):
        session.type_text(phrase)
    again = charting(store)
    assert again.chart == session.chart
    assert again.events == session.events
    assert again.doubts == session.doubts


def test_killed_at_any_moment_the_case_holds_all_that_was_shown(store, tmp_path):
    store.add_case(CASE)
    for pause_s in (0.0, 0.03, 0.11):
        before = len(store.load("brindle")[1])
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path / "cases.sqlite")],
            stdout=subprocess.PIPE,
            text=True,
        )
        shown = [writer.stdout.readline()]
        time.sleep(pause_s)
        writer.send_signal(signal.SIGKILL)
        shown += writer.stdout.read().splitlines()
        writer.wait()
        last = max(int(line) for line in shown if line.strip())
        case, events = store.load("brindle")
        assert len(events) >= last > before
        assert [event.sequence for event in events] == list(range(1, len(events) + 1))
        Session(case, spoken_languages(), events)


def test_two_sessions_on_one_case_chart_into_the_same_chart(store):
    store.add_case(CASE)
    one, other = charting(store), charting(store)
    one.type_text("208 calculus 2")
    other.type_text("209 calculus 3")
    assert [f.tooth for f in other.chart.findings] == [208, 209]
    assert [f.tooth for f in charting(store).chart.findings] == [208, 209]


def test_the_file_is_readable_by_its_owner_alone(store, tmp_path):
    store.add_case(CASE)
    charting(store).type_text("208 calculus 2")
    for path in tmp_path.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path


def test_a_case_that_is_not_there_is_named(store):
    with pytest.raises(DictateError, match="no case brindle"):
        store.load("brindle")


def test_a_case_is_added_once(store):
    store.add_case(CASE)
    with pytest.raises(DictateError, match="brindle exists"):
        store.add_case(CASE)


def test_cases_are_listed_the_last_opened_first(store):
    later = CASE.model_copy(update={"id": "flint", "opened": OPENED.replace(hour=11)})
    store.add_case(CASE)
    store.add_case(later)
    assert [summary.case.id for summary in store.cases()] == ["flint", "brindle"]


def test_a_fresh_id_is_one_that_no_case_has(store):
    first = store.fresh_id(OPENED, "dog")
    store.add_case(CASE.model_copy(update={"id": first}))
    assert store.fresh_id(OPENED, "dog") == "20260504-dog-2"


def test_a_file_that_is_no_database_is_refused_in_one_sentence(tmp_path):
    path = tmp_path / "cases.sqlite"
    path.write_bytes(b"this is no database, and never was one" * 50)
    with pytest.raises(DamagedError, match=r"file is not a database.*: nothing in it was changed"):
        CaseStore(path)
    assert path.read_bytes().startswith(b"this is no database")


def test_an_entry_of_a_newer_program_is_refused_and_kept(store, tmp_path):
    store.add_case(CASE)
    charting(store).type_text("208 calculus 2")
    with sqlite3.connect(tmp_path / "cases.sqlite") as db:
        db.execute("update events set document = replace(document, '\"heard\"', '\"sung\"')")
    with pytest.raises(DictateError, match="newer"):
        store.load("brindle")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write to any folder")
def test_a_read_only_folder_is_refused_in_one_sentence(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(DictateError, match="cannot be used"):
        CaseStore(tmp_path / "cases.sqlite")


def test_a_case_comes_with_all_of_its_events_or_not_at_all(store):
    session = Session(CASE, spoken_languages())
    session.type_text("208 calculus 2")
    with pytest.raises(DictateError):
        store.add_case(CASE, [*session.events, session.events[-1]])
    assert store.cases() == []
    store.add_case(CASE, session.events)
    assert store.load("brindle") == (CASE, session.events)
