"""Charting while the practice's database is away, on a real PostgreSQL that is stopped."""

import os
import signal
import stat
import subprocess
import sys
import time

import pytest

from dictate.cases.shared_case import AWAY
from dictate.cases.stored import case_store, load_case, station_id, stored_session
from dictate.chart.events import Event, ToothChosen
from dictate.errors import DictateError
from dictate.integrity.chain import hashes_of
from dictate.screen.app import ChartingApp
from dictate.screen.problems import Problems
from dictate.session.session import now_utc
from dictate.store.cases import CaseStore
from dictate.store.database import StoreAwayError
from dictate.store.delivery import delivery_of
from dictate.store.spool import Known, Spool, waiting_cases
from tests.screen_pilot import LARGE, OPENED, screen_of
from tests.test_stations import CASE, findings


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "room-1"))
    (tmp_path / "room-1").mkdir()
    return tmp_path / "room-1"


@pytest.fixture
def server(postgres):
    """The cluster; whatever a test did with it, it runs again afterwards."""
    yield postgres
    if not postgres.is_running():
        postgres.start()


@pytest.fixture
def here(server, database, monkeypatch):
    """A session of room 1 whose database is there."""
    monkeypatch.setenv("DICTATE_STORE", database)
    store = case_store()
    store.add_case(CASE)
    return stored_session(store, CASE)


def elsewhere(database, tmp_path, *phrases):
    """Chart in room 2, on its own data."""
    room = tmp_path / "room-2"
    room.mkdir(exist_ok=True)
    before, os.environ["DICTATE_DATA"] = os.environ["DICTATE_DATA"], str(room)
    try:
        store = CaseStore(database)
        session = stored_session(store, *store.load(CASE.id))
        for phrase in phrases:
            session.type_text(phrase)
        store.close()
    finally:
        os.environ["DICTATE_DATA"] = before
    return session


def look(session):
    return session.shared.take(session.shared.look(len(session.events)))


def resumed():
    store = case_store(may_be_away=True)
    return stored_session(store, *load_case(store, CASE.id))


def chosen(*numbers):
    return [
        Event(sequence=n, utterance=n, time=OPENED, what=ToothChosen(tooth=208)) for n in numbers
    ]


def test_charting_goes_on_while_the_database_is_away_and_is_delivered_once(
    here, server, database, data
):
    here.type_text("208 calculus 2")
    server.stop()
    assert here.type_text("pocket 5 mesial").outcome == "charted"
    assert here.type_text("209 missing").outcome == "charted"
    assert here.shared.problem == AWAY
    (file,) = (data / "spool").iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    assert not look(here)
    server.start()
    shown = here.events
    look(here)
    assert here.shared.problem is None
    assert list((data / "spool").iterdir()) == []
    store = CaseStore(database)
    assert store.load(CASE.id)[1] == shown == here.events
    assert store.as_kept(CASE.id).hashes == tuple(hashes_of(CASE, shown))
    here.type_text("309 calculus 1")
    assert CaseStore(database).load(CASE.id)[1] == here.events


def test_what_another_station_charted_meanwhile_stands_before_it(here, server, database, tmp_path):
    server.stop()
    here.type_text("208 pocket 5 mesial")
    here.type_text("209 calculus 1")
    server.start()
    elsewhere(database, tmp_path, "208 missing", "309 calculus 1")
    assert look(here)
    assert findings(here) == {
        (208, "missing", None, None), (309, "calculus", 1, None), (209, "calculus", 1, None)
    }  # fmt: skip
    (doubt,) = here.doubts
    assert doubt.heard.text == "208 pocket 5 mesial"
    assert here.chart.tooth_in_hand == 209
    assert here.type_text("pocket 3 mesial").outcome == "charted"
    events = CaseStore(database).load(CASE.id)[1]
    assert events == here.events
    assert (209, "pocket", 3, "mesial") in findings(here)


def test_it_survives_a_restart_while_the_database_is_still_away(here, server, database):
    here.type_text("208 calculus 2")
    server.stop()
    here.type_text("pocket 5 mesial")
    here.shared._spool.close()
    again = resumed()
    assert again.events == here.events
    assert again.chart.tooth_in_hand == 208
    assert again.shared.problem == AWAY
    again.type_text("209 missing")
    server.start()
    assert look(again)
    assert CaseStore(database).load(CASE.id)[1] == again.events
    assert len(findings(again)) == 3


def test_whoever_opens_the_case_next_delivers_what_waits(here, server, database):
    server.stop()
    here.type_text("208 calculus 2")
    here.shared._spool.close()
    server.start()
    again = resumed()
    assert again.shared.problem is None
    assert findings(again) == {(208, "calculus", 2, None)}
    assert CaseStore(database).load(CASE.id)[1] == here.events


def test_any_command_delivers_what_waits(here, server, database, data, capsys):
    server.stop()
    here.type_text("208 calculus 2")
    here.shared._spool.close()
    server.start()
    case_store()
    assert waiting_cases(data / "spool") == []
    assert CaseStore(database).load(CASE.id)[1] == here.events
    assert capsys.readouterr().err == ""


def test_a_case_that_was_not_known_before_cannot_be_opened_while_it_is_away(here, server):
    server.stop()
    with pytest.raises(StoreAwayError, match=r"does not answer .* check that it runs"):
        resumed()


def test_a_lost_answer_doubles_nothing(here, database, monkeypatch):
    """The store kept it, and the connection broke before it could say so."""
    store, deliver = here.shared._store, CaseStore.deliver

    def keeps_and_breaks(*arguments):
        deliver(*arguments)
        raise StoreAwayError("the connection was lost")

    monkeypatch.setattr(CaseStore, "deliver", keeps_and_breaks)
    here.type_text("208 calculus 2")
    here.type_text("pocket 5 mesial")
    assert not look(here)
    monkeypatch.setattr(CaseStore, "deliver", deliver)
    look(here)
    assert here.shared.problem is None
    events = store.load(CASE.id)[1]
    assert events == here.events
    assert sum(each.what.event == "charted" for each in events) == 2


def test_a_lost_answer_to_a_merged_delivery_doubles_nothing(
    here, server, database, tmp_path, monkeypatch
):
    deliver = CaseStore.deliver
    server.stop()
    here.type_text("208 pocket 5 mesial")
    server.start()
    elsewhere(database, tmp_path, "208 missing")

    def keeps_and_breaks(*arguments):
        deliver(*arguments)
        raise StoreAwayError("the connection was lost")

    monkeypatch.setattr(CaseStore, "deliver", keeps_and_breaks)
    look(here)
    here.type_text("209 calculus 1")
    monkeypatch.setattr(CaseStore, "deliver", deliver)
    look(here)
    assert findings(here) == {(208, "missing", None, None), (209, "calculus", 1, None)}
    assert len(here.doubts) == 1
    assert CaseStore(database).load(CASE.id)[1] == here.events


def test_what_is_heard_while_others_are_kept_away_outlives_the_database(
    here, server, database, tmp_path
):
    elsewhere(database, tmp_path, "309 calculus 1")
    times = []

    def now():
        times.append(now_utc())
        if len(times) == 2:
            server.stop("immediate")
        return times[-1]

    here._course._now = now
    assert here.type_text("208 calculus 2").outcome == "charted"
    assert here.shared.problem == AWAY
    server.start()
    look(here)
    assert here.shared.problem is None
    assert findings(here) == {(208, "calculus", 2, None), (309, "calculus", 1, None)}
    assert CaseStore(database).load(CASE.id)[1] == here.events


def test_a_server_that_goes_while_others_are_kept_away_is_no_error(here, server):
    with here.alone():
        server.stop("immediate")


def test_who_delivers_is_not_overtaken_again_and_again(here, server, database, tmp_path):
    server.stop()
    here.type_text("208 pocket 5 mesial")
    server.start()
    deliver, others = CaseStore.deliver, iter(["309 calculus 1", "404 missing"])

    def overtaken(store, case_id, new, station):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(CaseStore, "deliver", deliver)
            elsewhere(database, tmp_path, next(others))
        deliver(store, case_id, new, station)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(CaseStore, "deliver", overtaken)
        look(here)
    assert here.shared.problem is None
    assert findings(here) == {(208, "pocket", 5, "mesial"), (309, "calculus", 1, None)}
    assert CaseStore(database).load(CASE.id)[1] == here.events


CHARTER = """
import sys
from dictate.cases.stored import case_store, load_case, stored_session
store = case_store(may_be_away=True)
session = stored_session(store, *load_case(store, "mila-1"))
for number in range(10_000):
    session.type_text(f"note: {number}")
    print(number, flush=True)
"""


def test_killed_at_any_moment_the_spool_holds_all_that_was_shown(here, server, database):
    here.type_text("208 calculus 2")
    server.stop()
    here.type_text("pocket 5 mesial")
    here.shared._spool.close()
    shown = 0
    for pause_s in (0.0, 0.05, 0.2):
        writer = subprocess.Popen(
            [sys.executable, "-c", CHARTER], stdout=subprocess.PIPE, text=True
        )
        lines = [writer.stdout.readline()]
        time.sleep(pause_s)
        writer.send_signal(signal.SIGKILL)
        lines += writer.stdout.read().splitlines()
        writer.wait()
        shown += len([line for line in lines if line.strip()])
    server.start()
    session = resumed()
    notes = [note.text for note in session.chart.notes]
    assert shown <= len(notes) <= shown + 3
    assert (208, "pocket", 5, "mesial") in findings(session)
    assert CaseStore(database).load(CASE.id)[1] == session.events


def test_a_line_that_was_cut_off_is_passed_over(tmp_path):
    spool = Spool(tmp_path / "spool", "mila-1")
    known = Known(case=CASE, events=())
    spool.begin(known, delivery_of(chosen(1)))
    spool.add(delivery_of(chosen(2)))
    spool.close()
    path = tmp_path / "spool" / "mila-1.jsonl"
    path.write_bytes(path.read_bytes() + b'{"id": "0123')
    again = Spool(tmp_path / "spool", "mila-1")
    assert len(again.open().deliveries) == 2
    again.add(delivery_of(chosen(3)))
    assert [each.sequence for each in again.read().events] == [1, 2, 3]


def test_a_spool_is_of_one_program_at_a_time(tmp_path):
    one, other = (Spool(tmp_path / "spool", "mila-1") for _ in range(2))
    known = Known(case=CASE, events=())
    one.begin(known, delivery_of(chosen(1)))
    with pytest.raises(DictateError, match="Another program on this machine"):
        other.open()
    with pytest.raises(DictateError, match="Another program on this machine"):
        other.begin(known, delivery_of(chosen(1)))
    one.close()
    assert len(other.open().deliveries) == 1


def test_a_damaged_spool_is_kept_and_said(tmp_path):
    spool = Spool(tmp_path, "mila-1")
    path = tmp_path / "mila-1.jsonl"
    path.write_text("{}\n")
    with pytest.raises(DictateError, match="is damaged: keep a copy"):
        spool.open()
    assert path.read_text() == "{}\n"


def test_a_full_disk_refuses_the_utterance_and_leaves_the_spool_whole(tmp_path, monkeypatch):
    spool = Spool(tmp_path, "mila-1")
    spool.begin(Known(case=CASE, events=()), delivery_of(chosen(1)))

    def full(_file):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("dictate.store.spool.os.fsync", full)
    with pytest.raises(DictateError, match="No space left"):
        spool.add(delivery_of(chosen(2)))
    monkeypatch.undo()
    spool.add(delivery_of(chosen(2)))
    assert [each.sequence for each in spool.read().events] == [1, 2]


def test_a_station_keeps_its_id(data):
    assert station_id() == station_id()
    assert stat.S_IMODE((data / "station").stat().st_mode) == 0o600


def test_another_station_is_told_from_this_one_after_a_restart(here, database, tmp_path):
    here.type_text("208")
    elsewhere(database, tmp_path, "309")
    again = resumed()
    assert again.others == {3, 4}
    assert again.chart.tooth_in_hand == 208


async def settle(pilot, done):
    for _ in range(100):
        await pilot.pause(0.1)
        if done():
            return
    raise AssertionError("it did not come")


async def test_the_screen_shows_what_another_station_charts(here, database, tmp_path):
    app = ChartingApp(here)
    async with app.run_test(size=LARGE) as pilot:
        here.type_text("208")
        elsewhere(database, tmp_path, "309 calculus 2")
        await settle(pilot, lambda: len(here.events) > 2)
        await pilot.pause()
        assert "another station: 309 calculus 2" in screen_of(app)
        assert here.chart.tooth_in_hand == 208


async def test_the_screen_says_that_the_database_is_away_and_back(here, server):
    app = ChartingApp(here)
    async with app.run_test(size=LARGE) as pilot:
        server.stop()
        app.type_phrase("208 calculus 2")
        await pilot.pause()
        assert AWAY in app.query_one(Problems).sentences.values()
        assert "charted here, and delivered when it is back" in screen_of(app)
        server.start()
        await settle(pilot, lambda: here.shared.problem is None)
        await pilot.pause()
        assert app.query_one(Problems).sentences == {}


async def test_the_screen_shows_what_another_program_charts_in_the_same_file(data):
    store = case_store()
    store.add_case(CASE)
    session = stored_session(store, CASE)
    app = ChartingApp(session)
    async with app.run_test(size=LARGE) as pilot:
        elsewhere(data / "cases.sqlite", data, "309 calculus 2")
        await settle(pilot, lambda: len(session.events) > 2)
        await pilot.pause()
        assert "another station: 309 calculus 2" in screen_of(app)


def test_charting_goes_on_where_a_file_was_taken_away_and_is_in_the_new_one(data):
    store = case_store()
    store.add_case(CASE)
    session = stored_session(store, CASE)
    (data / "cases.sqlite").unlink()
    for each in data.glob("cases.sqlite-*"):
        each.unlink()
    store.close()
    session.type_text("208 calculus 2")
    assert "is damaged (no such table: cases)" in session.shared.problem
    session.shared._spool.close()
    store = CaseStore(data / "cases.sqlite")
    assert store.ids() == []
    again = stored_session(store, *load_case(store, CASE.id))
    assert again.events == session.events == store.load(CASE.id)[1]
    assert not list((data / "spool").iterdir())


async def test_a_question_of_another_station_is_not_asked_here(data):
    store = case_store()
    store.add_case(CASE)
    session = stored_session(store, CASE)
    app = ChartingApp(session)
    async with app.run_test(size=LARGE) as pilot:
        elsewhere(data / "cases.sqlite", data, "309 pocket 5 mesial", "309 pocket 7 mesial")
        await settle(pilot, lambda: len(session.events) > 3)
        await pilot.pause()
        assert len(session.doubts) == 1
        assert "YES charts" not in screen_of(app)
        assert "another station: 309 pocket 7 mesial" in screen_of(app)
        await pilot.press("ctrl+d")
        await pilot.pause()
        assert "Replace by pocket 7 mm mesial?" in screen_of(app)
