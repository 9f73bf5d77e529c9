"""Short runs of the scripts in tests/reliability, and what disks and clocks do wrong."""

from __future__ import annotations

import os
import random
import resource
import sqlite3
import struct
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
import soundfile

from dictate.chart.case import Case
from dictate.documents.reports import write_reports
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.report.record import json_text, read_json, record_in, record_of
from dictate.session.session import Session
from dictate.speech.audio_file import AudioFile
from dictate.store.cases import CaseStore
from dictate.store.delivery import delivery_of
from tests.reliability import (
    audio_day,
    bad_imports,
    bad_input,
    damaged_store,
    many_stations,
    sudden_death,
)
from tests.reliability.many_stations import Figures, Way, hold_against
from tests.reliability.station import Account, Told
from tests.reliability.untruths import untruths

OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
CASE = Case(id="brindle", species="dog", opened=OPENED, animal="Brindle")
NOBODY = 65534


@pytest.mark.parametrize(
    ("live", "times"), [(sudden_death.headless, 10), (sudden_death.on_screen, 2)]
)
def test_a_case_is_what_was_shown_when_its_session_was_killed(live, times):
    figures = sudden_death.Figures()
    sudden_death.run(live, times, 7, figures)
    assert not figures.wrong
    assert figures.lives.total() == times


@pytest.mark.parametrize("kind", list(bad_input.KINDS))
def test_input_that_nobody_meant_is_refused_in_a_sentence(kind):
    figures = bad_input.run(kind, 2, 0.6)
    assert not figures.faults
    assert figures.outcomes["refused in a sentence"] or kind == "phrase"
    assert figures.outcomes["taken"] or kind not in bad_input.OWN_DAMAGE


@pytest.mark.parametrize("seed", range(40))
def test_a_forged_record_is_taken_where_the_tables_allow_all_of_it_and_only_there(seed):
    forged = bad_imports.forged(random.Random(seed))
    wrong = untruths(forged.case, forged.events)
    record = json_text(forged, "record.json").encode()
    if wrong:
        with pytest.raises(DictateError):
            record_in(record, "record.json")
    else:
        assert record_in(record, "record.json") == forged


def test_what_is_damaged_is_refused_in_a_sentence_by_the_command_itself():
    figures = bad_input.run_processes("bundle", 5, 2)
    assert not figures.faults
    assert figures.outcomes.total() == 2


def test_no_damage_to_the_file_of_the_cases_goes_unnoticed():
    figures = damaged_store.run(pages=1, step=991, seed=5)
    assert not figures.wrong
    assert figures.outcomes["a bit changed"]["told as the case is opened"]
    assert figures.outcomes["cut off"]["told as it is opened"]
    assert 0.7 < figures.events["saved"] / figures.events["all"] <= 1


def test_memory_does_not_grow_while_it_listens():
    parts, _ = audio_day.listen(0.04, "none", every_h=0.02, tell=False)
    assert len(parts) == 2
    assert parts[1].utterances > 5
    assert parts[1].memory_mb < 1.2 * parts[0].memory_mb


@pytest.mark.parametrize(
    ("name", "way"),
    [
        ("quick", Way("in pairs, as fast as it goes", (2, 2), 10)),
        ("killed", Way("on one case, the server killed", (4,), 8, each_s=0.5, away_s=1)),
    ],
)
def test_what_was_told_at_many_stations_is_in_the_database_once(postgres, name, way):
    figures = many_stations.run(postgres, postgres.make_database(name), way, 7)
    assert not figures.troubles
    assert len(figures.delays) >= 4 * way.phrases
    assert bool(figures.away) == bool(way.away_s)
    assert figures.seen


def told_at_a_station(store: CaseStore) -> Account:
    """Return what a station told of a case that it charted alone."""
    store.add_case(CASE)
    session = Session(
        CASE, spoken_languages(), save=lambda new: store.deliver(CASE.id, [delivery_of(new)], "one")
    )
    told = []
    for phrase in ("208 calculus 2", "209 calculus 1", "404 missing"):
        before = len(session.events)
        session.type_text(phrase)
        told.append(Told(text=phrase, due=0, told=1, outcome="charted", reason=None, away=False,
                         heard_again=False, events=session.events[before:]))  # fmt: skip
    return Account(station="one", case_id=CASE.id, told=told, seen=(), memory_mb=0, troubles=())


@pytest.mark.parametrize(
    ("told", "trouble"),
    [
        ((0, 1, 2), None),
        ((0, 1), "1 utterances are there that nobody told"),
        ((0, 1, 2, 1), "“209 calculus 1” was told twice"),
        ((1, 0, 2), "“209 calculus 1” is not in its place"),
        ((0, 2), "1 utterances are there that nobody told"),
    ],
)
def test_what_a_station_told_is_held_against_the_database(tmp_path, told, trouble):
    store, figures = CaseStore(tmp_path / "cases.sqlite"), Figures("one station")
    account = told_at_a_station(store)
    account = account.model_copy(update={"told": [account.told[each] for each in told]})
    hold_against(store, CASE.id, [account], figures)
    assert [each.removeprefix(f"{CASE.id}: ") for each in figures.troubles][:1] == (
        [trouble] if trouble else []
    )


@pytest.mark.parametrize(
    ("damage", "trouble"),
    [
        ("DELETE FROM events WHERE sequence > 6", "“404 missing” was told, and is there 0 times"),
        ("UPDATE events SET hash = NULL WHERE sequence = 9", "an event has no hash"),
        ("UPDATE events SET document = replace(document, '\"value\":1', '\"value\":2')",
         "“209 calculus 1” is not there as it was told"),
    ],
)  # fmt: skip
def test_what_the_database_lost_or_altered_is_found(tmp_path, damage, trouble):
    store, figures = CaseStore(tmp_path / "cases.sqlite"), Figures("one station")
    account = told_at_a_station(store)
    with sqlite3.connect(tmp_path / "cases.sqlite") as db:
        db.execute(damage)
    hold_against(store, CASE.id, [account], figures)
    assert f"{CASE.id}: {trouble}" in figures.troubles


def in_another_process(do: Callable[[], None]) -> int:
    """Do something in a process of its own; return its exit code, 0 where nothing was raised."""
    child = os.fork()
    if child == 0:
        try:
            do()
            os._exit(0)
        except BaseException as error:
            print(repr(error), file=sys.stderr)
            os._exit(1)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def charting(path: Path, now: Callable[[], datetime] = lambda: OPENED) -> Session:
    store = CaseStore(path)
    case, events = store.load(CASE.id)
    return Session(
        case, spoken_languages(), events, save=lambda new: store.append(case.id, new), now=now
    )


def test_on_a_full_disk_nothing_is_charted_until_there_is_room(tmp_path):
    path = tmp_path / "cases.sqlite"
    CaseStore(path).add_case(CASE)

    def chart() -> None:
        session = charting(path)
        room = path.with_name("cases.sqlite-wal").stat().st_size + 40_000
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY))
        with pytest.raises(DictateError, match=r"cannot be used .*: check the disk"):
            for number in range(1000):
                session.type_text(f"note: observed {number}")
        before = session.events
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        assert charting(path).events == before
        session.type_text("208 calculus 2")
        assert charting(path).chart == session.chart

    assert in_another_process(chart) == 0


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become someone else")
@pytest.mark.parametrize(("folder", "file"), [(0o500, 0o600), (0o700, 0o000), (0o500, 0o400)])
def test_what_may_not_be_written_is_refused_in_a_sentence(tmp_path, folder, file):
    data = tmp_path / "data"
    data.mkdir()
    path = data / "cases.sqlite"
    store = CaseStore(path)
    store.add_case(CASE)
    store.close()
    for each in (tmp_path, data, path):
        os.chown(each, NOBODY, NOBODY)
    for each in tmp_path.parents:
        if each.stat().st_uid == 0 and str(each).startswith("/tmp/"):
            each.chmod(each.stat().st_mode | 0o011)
    path.chmod(file)
    data.chmod(folder)

    def chart() -> None:
        os.setgid(NOBODY)
        os.setuid(NOBODY)
        with pytest.raises(DictateError, match=r"cases\.sqlite cannot be used"):
            charting(path).type_text("208 calculus 2")

    assert in_another_process(chart) == 0


def test_recordings_that_lie_about_themselves_are_refused_or_read(tmp_path):
    path = tmp_path / "recording.wav"
    soundfile.write(path, np.zeros((96_000, 8)), 96_000)
    assert sum(len(each) for each in AudioFile(path).blocks()) == 16_000
    whole = path.read_bytes()
    for at, lie in ((40, 0x7FFFFFF0), (40, 0), (24, 0), (22, 0xFFFF), (4, 1)):
        path.write_bytes(whole[:at] + struct.pack("<I", lie) + whole[at + 4 :])
        try:
            for _ in AudioFile(path).blocks():
                pass
        except DictateError as error:
            assert str(path) in str(error)


def test_events_keep_their_order_when_the_clock_is_set_back(tmp_path):
    path = tmp_path / "cases.sqlite"
    CaseStore(path).add_case(CASE)
    summer, winter = timezone(timedelta(hours=2)), timezone(timedelta(hours=1))
    times = [
        datetime(2026, 10, 25, 2, 59, tzinfo=summer),
        datetime(2026, 10, 25, 2, 1, tzinfo=winter),
        datetime(2020, 1, 1, tzinfo=UTC),
        datetime(1970, 1, 1, tzinfo=UTC),
        datetime(2026, 10, 25, 2, 30, tzinfo=winter),
    ]
    said = ["208 pocket 5 mesial", "pocket 6 mesial", "209 calculus 2", "undo", "304 missing"]
    clock = iter(times)
    now = [times[0]]
    session = charting(path, lambda: now[0])
    for phrase in said:
        now[0] = next(clock)
        session.type_text(phrase)
    steady = Session(CASE, spoken_languages(), now=lambda: OPENED)
    for phrase in said:
        steady.type_text(phrase)
    again = charting(path)
    assert again.chart == session.chart == steady.chart
    assert [event.sequence for event in again.events] == list(range(1, len(again.events) + 1))
    written = write_reports(record_of(CASE, again.events), tmp_path / "out")
    exported = read_json(next(each for each in written if each.suffix == ".json"))
    assert exported.events == again.events
