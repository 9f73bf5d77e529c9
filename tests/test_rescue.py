"""Files of cases that a disk damaged: noticed when they are opened, kept aside, and saved from."""

import os
import random
import sqlite3
import stat
import subprocess
import sys
import time
from contextlib import closing
from datetime import date

import pytest
from typer.testing import CliRunner

from dictate import cli
from dictate.cases.stored import case_store, cases_waiting, load_case, stored_session
from dictate.chart.case import Case
from dictate.chart.events import Heard, Noted
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.cases import CaseStore
from dictate.store.damage import MOST_CHECKED_BYTES, DamagedError, check_file
from dictate.store.pages import rows_in
from dictate.store.rescue import rescue
from tests.case_store import OPENED, keep, kept_cases


@pytest.fixture
def data(tmp_path, monkeypatch):
    folder = tmp_path / "data"
    folder.mkdir(mode=0o700)
    monkeypatch.setenv("DICTATE_DATA", str(folder))
    return folder


@pytest.fixture
def file(data):
    """The file of five cases, closed."""
    kept_cases(data).close()
    return data / "cases.sqlite"


def run(*words):
    result = CliRunner().invoke(cli.app, list(words))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        assert isinstance(result.exception, cli.DictateError)
        return 2, str(result.exception)
    return result.exit_code, result.output


def flip(file, at):
    """Change a byte of a text into another letter."""
    kept = bytearray(file.read_bytes())
    kept[at] = ord("3") if kept[at] != ord("3") else ord("4")
    file.write_bytes(kept)


def events_of(file, case_id):
    store = CaseStore(file)
    try:
        return store.load(case_id)
    finally:
        store.close()


def test_a_whole_file_is_left_alone(file):
    before = file.read_bytes()
    code, told = run("rescue")
    assert code == 0 and "nothing was done" in told
    assert file.read_bytes() == before
    assert not list(file.parent.glob("*damaged*"))


def test_a_changed_letter_is_noticed_and_the_rest_of_the_case_saved(file):
    was = {name: events_of(file, name) for name in ("mila-1", "mila-2")}
    flip(file, file.read_bytes().index(b"404 missing"))
    damaged = file.read_bytes()
    code, told = run("report", "mila-2", "--out", str(file.parent / "out"))
    assert code == 2 and "event 5 (heard “304 missing”" in told and "dictate rescue" in told
    assert not (file.parent / "out").exists()
    code, told = run("check")
    assert code == 1 and "✗ cases: Case mila-2 was damaged or altered: event 5" in told
    assert run("report", "mila-1", "--out", str(file.parent / "out"))[0] == 0

    code, told = run("rescue")
    assert code == 0 and "5 cases found in it, 4 whole" in told
    assert "Case mila-2: 4 of 7 events saved." in told
    assert events_of(file, "mila-1") == was["mila-1"]
    case, events = events_of(file, "mila-2")
    assert (case, events) == (was["mila-2"][0], was["mila-2"][1][:4])
    (copy,) = file.parent.glob("cases-damaged-????-??-??.sqlite")
    listed = copy.with_suffix(".txt")
    assert copy.read_bytes() == damaged
    assert "“304 missing” (charted)" in listed.read_text()
    assert {stat.S_IMODE(each.stat().st_mode) for each in (file, copy, listed)} == {0o600}
    assert run("verify", "mila-2")[0] == 0
    assert "nothing was done" in run("rescue")[1]


def test_a_changed_name_is_noticed_and_told(file):
    with sqlite3.connect(file) as db:
        db.execute("UPDATE cases SET document = replace(document, 'Zoë', 'Zoa') WHERE id='zoe-1'")
        db.execute("UPDATE cases SET document = replace(document, 'Bo', 'Ba') WHERE id='bo-1'")
    for case_id in ("zoe-1", "bo-1"):
        with pytest.raises(DamagedError, match="what it states of the animal"):
            events_of(file, case_id)
    _, told = run("rescue")
    for case_id, events in (("zoe-1", "3 of 3"), ("bo-1", "0 of 0")):
        assert f"Case {case_id}: {events} events saved. What it states of the animal" in told
    assert events_of(file, "zoe-1")[0].animal == "Zoa"
    assert run("verify", "zoe-1")[0] == 0


@pytest.mark.parametrize(
    ("statement", "told", "saved"),
    [
        ("DELETE FROM events WHERE case_id = 'mila-1' AND sequence > 5", "last of its 7", "4 of 7"),
        ("DELETE FROM events WHERE case_id = 'mila-1' AND sequence = 3", "event 3 is", "0 of 7"),
        ("UPDATE events SET document = '{' WHERE case_id = 'mila-1' AND sequence = 2",
         "Event 2 of case mila-1 cannot be read", "0 of 7"),
        ("UPDATE cases SET document = '{' WHERE id = 'mila-1'", "mila-1 cannot be read", "lost"),
        ("UPDATE cases SET hash = 'ab' WHERE id = 'mila-1'", "of the animal", None),
    ],
)  # fmt: skip
def test_what_is_lacking_is_noticed_and_what_is_there_is_saved(file, statement, told, saved):
    was = events_of(file, "mila-1")
    with closing(sqlite3.connect(file, isolation_level=None)) as db:
        db.execute("PRAGMA secure_delete = ON")
        db.execute(statement)
    with pytest.raises(DamagedError, match=told):
        events_of(file, "mila-1")
    _, said = run("rescue")
    if saved is None:
        # The hash was damaged, and not what it is of: the chain shows it.
        assert "5 whole" in said and events_of(file, "mila-1") == was
    else:
        assert saved in said and "4 whole" in said


def test_a_file_that_lost_its_header_and_its_schema_is_saved_whole(file):
    was = [events_of(file, name) for name in ("mila-1", "zoe-2", "bo-1")]
    kept = file.read_bytes()
    file.write_bytes(random.Random(1).randbytes(4096) + kept[4096:])
    with pytest.raises(DamagedError, match="nothing in it was changed"):
        CaseStore(file)
    assert run("cases")[0] == 2
    assert "5 whole" in run("rescue")[1]
    assert [events_of(file, each[0].id) for each in was] == was


@pytest.mark.parametrize("log", [False, True])
def test_a_file_that_was_emptied_is_not_taken_for_a_new_one(data, log):
    file = data / "cases.sqlite"
    store = kept_cases(data)
    kept_log = file.with_name("cases.sqlite-wal").read_bytes()
    store.close()
    if log:
        file.with_name("cases.sqlite-wal").write_bytes(kept_log)
    file.write_bytes(b"")
    os.utime(file, (time.time() - 100,) * 2)
    with pytest.raises(DamagedError, match="is empty"):
        CaseStore(file)
    code, told = run("rescue")
    assert code == 0
    assert ("5 cases found in it, 5 whole" if log else "0 cases found") in told
    assert len(CaseStore(file).cases()) == (5 if log else 0)


def test_long_entries_run_over_several_pages_and_are_saved(data):
    long = "a lump, " * 1500
    store = CaseStore(data / "cases.sqlite")
    keep(store, "long", 1, "208 calculus 2", f"note: {long}", breed="Border Collie")
    kept = store.load("long")
    assert any(isinstance(each.what, Noted) for each in kept[1])
    store.close()
    file = data / "cases.sqlite"
    file.write_bytes(bytes(200) + file.read_bytes()[200:])
    assert "1 whole" in run("rescue")[1]
    assert events_of(file, "long") == kept


def test_a_file_that_is_open_elsewhere_is_not_replaced(file):
    flip(file, file.read_bytes().index(b"404 missing"))
    holding = (
        "import sqlite3, sys\n"
        f"db = sqlite3.connect({str(file)!r})\n"
        "db.execute('select count(*) from cases').fetchone(); print(flush=True)\n"
        "sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", holding], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        other.stdout.readline()
        code, told = run("rescue")
        assert code == 2 and "Another program has" in told
        assert not list(file.parent.glob("*damaged*"))
        other.stdin.close()
    assert run("rescue")[0] == 0


def test_charting_goes_on_while_the_file_is_damaged_and_nothing_is_lost(data):
    file = data / "cases.sqlite"
    store = case_store()
    case = Case(id="bo-1", species="dog", opened=OPENED, animal="Bo")
    store.add_case(case)
    session = stored_session(store, case)
    session.type_text("208 calculus 2")
    store.close()
    for end in ("", "-wal"):
        kept = file.with_name(file.name + end)
        if kept.exists():
            kept.write_bytes(random.Random(2).randbytes(kept.stat().st_size))
    for phrase in ("pocket 5 mesial", "309 missing"):
        assert session.type_text(phrase).outcome == "charted"
    assert "is damaged" in session.shared.problem
    shown = session.events
    store.close()
    session.shared._spool.close()

    assert run("rescue")[0] == 0
    store = case_store()
    again = stored_session(store, *load_case(store, case.id))
    assert again.events == shown
    assert again.shared.problem is None
    assert store.load(case.id)[1] == shown


def test_a_practices_database_is_not_rescued(data, monkeypatch):
    monkeypatch.setenv("DICTATE_STORE", "postgresql+psycopg://nobody@localhost/none")
    code, told = run("rescue")
    assert code == 2 and "who looks after it" in told


def test_large_files_are_not_read_through_at_every_start(file, monkeypatch):
    asked = []
    monkeypatch.setattr(sqlite3, "connect", lambda *given, **how: asked.append(given))
    with file.open("r+b") as grown:
        grown.truncate(MOST_CHECKED_BYTES + 1)
    check_file(file)
    assert asked == []


def test_every_row_that_sqlite_reads_is_read_from_the_pages(file):
    """Against SQLite itself (sqlite3 of the standard library)."""
    with sqlite3.connect(file) as db:
        known = {*db.execute("SELECT * FROM cases"), *db.execute("SELECT * FROM events")}
    ids = {row[0] for row in known}
    assert known == {row for row in rows_in(file) if row[0] in ids}


def test_a_session_of_the_saved_case_goes_on(file):
    flip(file, file.read_bytes().index(b"404 missing"))
    run("rescue")
    store = CaseStore(file)
    case, events = store.load("mila-2")
    session = Session(case, spoken_languages(), events, save=lambda new: store.append(case.id, new))
    session.type_text("404 missing")
    assert store.load("mila-2")[1] == session.events


def test_an_utterance_is_saved_whole_or_listed(file):
    place = file.read_bytes().rindex(b'"event":"charted"')
    flip(file, file.read_bytes().index(b'"tooth":', place) + len(b'"tooth":'))
    _, told = run("rescue")
    (listed,) = file.parent.glob("cases-damaged-*.txt")
    assert "whole" in told and "(charted)" in listed.read_text()
    for case_id in ("mila-1", "mila-2", "zoe-1", "zoe-2"):
        _, events = events_of(file, case_id)
        for each in events:
            is_charted = isinstance(each.what, Heard) and each.what.outcome == "charted"
            assert not is_charted or any(
                other.utterance == each.utterance and other.sequence > each.sequence
                for other in events
            )


def test_what_may_be_of_a_newer_dictate_is_not_thrown_away(file):
    with closing(sqlite3.connect(file, isolation_level=None)) as db:
        db.execute(
            "UPDATE events SET document = replace(document, '\"utterance\"', '\"breath\"') "
            "WHERE case_id = 'mila-1' AND sequence = 2"
        )
    before = file.read_bytes()
    code, told = run("rescue")
    assert code == 2 and "Case mila-1 has entries of a form" in told
    assert file.read_bytes() == before
    assert not list(file.parent.glob("*damaged*"))
    code, told = run("rescue", "--as-damaged")
    assert code == 0 and "Case mila-1: 0 of 7 events saved" in told


def test_a_file_behind_a_link_is_saved_where_it_is(file, tmp_path):
    elsewhere = tmp_path / "disk"
    elsewhere.mkdir()
    flip(file, file.read_bytes().index(b"404 missing"))
    file.rename(elsewhere / "cases.sqlite")
    file.symlink_to(elsewhere / "cases.sqlite")
    assert run("rescue")[0] == 0
    assert file.is_symlink()
    assert list(elsewhere.glob("cases-damaged-*.sqlite"))
    assert len(events_of(file, "mila-2")[1]) == 4


def test_where_it_fails_nothing_is_left_and_nothing_changed(file, monkeypatch):
    flip(file, file.read_bytes().index(b"404 missing"))
    before = {each.name: each.read_bytes() for each in file.parent.iterdir()}

    def full(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(CaseStore, "put_back", full)
    code, told = run("rescue")
    assert code == 2 and "make room" in told
    assert {each.name: each.read_bytes() for each in file.parent.iterdir()} == before


def test_who_comes_while_it_is_saved_loses_nothing(file):
    flip(file, file.read_bytes().index(b"404 missing"))
    add = (
        "import sys\n"
        "from pathlib import Path\n"
        "from dictate.chart.case import Case\n"
        "from dictate.errors import DictateError\n"
        "from dictate.store.cases import CaseStore\n"
        "print('here', flush=True)\n"
        "try:\n"
        "    store = CaseStore(Path(sys.argv[1]))\n"
        "    store.add_case(Case(id='late', species='dog', opened='2026-05-04T12:00Z'))\n"
        "except DictateError as error:\n"
        "    sys.exit(3)\n"
    )
    started = []

    def tell(_copy, _found):
        other = subprocess.Popen([sys.executable, "-c", add, str(file)], stdout=subprocess.PIPE)
        other.stdout.readline()
        time.sleep(0.5)
        started.append(other)

    rescue(file, date(2026, 5, 4), tell)
    (other,) = started
    was_refused = other.wait(30) == 3
    other.stdout.close()
    assert was_refused or "late" in CaseStore(file).ids()


def test_a_lost_case_that_waits_here_is_no_other_ones(data, file):
    store = case_store()
    now = OPENED
    case = Case(id=store.fresh_id(now, "dog"), species="dog", opened=now, animal="Nala")
    store.add_case(case)
    session = stored_session(store, case)
    session.type_text("208 calculus 2")
    store.close()
    file.write_bytes(random.Random(3).randbytes(200_000))
    session.type_text("309 missing")
    shown = session.events
    store.close()
    session.shared._spool.close()
    assert run("rescue")[0] == 0
    store = case_store()
    assert case.id not in store.ids()
    assert store.fresh_id(now, "dog", cases_waiting()) != case.id
    other = case.model_copy(update={"animal": "Bo"})
    store.add_case(other)
    with pytest.raises(cli.DictateError, match="is another one now"):
        stored_session(store, *store.load(case.id))
    assert store.load(case.id) == (other, ())
    store.delete_cases([case.id])
    assert stored_session(store, *load_case(store, case.id)).events == shown


def test_a_case_of_which_something_waits_is_not_deleted(file):
    whole = file.read_bytes()
    store = case_store()
    session = stored_session(store, *store.load("bo-1"))
    store.close()
    file.write_bytes(bytes(len(whole)))
    assert session.type_text("208 calculus 2").outcome == "charted"
    session.shared._spool.close()
    store.close()
    file.write_bytes(whole)
    code, told = run("forget", "bo-1", "--yes")
    assert code == 2 and "waits to be delivered" in told
    assert stored_session(store, *load_case(store, "bo-1")).events == session.events
    assert run("forget", "bo-1", "--yes")[0] == 0
    assert "bo-1" not in store.ids()
