"""Deletion on request: what was asked for is gone for good, all else stays."""

import errno
import os
import sqlite3
import stat
from datetime import timedelta

import numpy as np
import pytest

from dictate.cases.stored import stored_session
from dictate.errors import DictateError
from dictate.retention.erase import erase
from dictate.retention.forget import (
    cases_named,
    cases_of_animal,
    check_reason,
    forget,
    what_goes,
)
from dictate.retention.log import LOG_FILE
from dictate.retention.sound import erase_old_sound
from dictate.settings import SETTINGS_FILE
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis
from tests.backups import NOW, SOUND, filled, rows, sounding, source_in
from tests.case_store import keep


@pytest.fixture
def data(tmp_path):
    return filled(tmp_path / "data")


def ids(cases):
    return sorted(each.case.id for each in cases)


def deleted(data, cases, reason="asked for"):
    going = what_goes(cases, data.clips)
    return forget(going, data.store, data.clips, data.folder, NOW, reason)


def on_disk(folder):
    """All bytes of the store's files: the database and its log."""
    return b"".join(path.read_bytes() for path in folder.glob("cases.sqlite*"))


# Which cases


def test_all_cases_of_an_animal_are_found_by_its_name(data):
    assert ids(cases_of_animal(data.store, "mila")) == ["mila-1", "mila-2"]


def test_an_animal_whose_name_is_a_part_of_another_is_not_taken_with_it(data):
    keep(data.store, "bobo-1", 3, animal="Bobo", owner_reference="K-9")
    assert ids(cases_of_animal(data.store, "Bo")) == ["bo-1"]


def test_two_animals_of_one_name_are_never_deleted_together(data):
    keep(data.store, "other-1", 3, animal="Mila", owner_reference="K-77")
    with pytest.raises(DictateError, match=r"several animals \(two owner references"):
        cases_of_animal(data.store, "Mila")
    assert ids(cases_of_animal(data.store, "Mila", owner="k-77")) == ["other-1"]


def test_cases_that_only_may_be_of_one_animal_have_to_be_named(data):
    with pytest.raises(DictateError, match="may be of several animals"):
        cases_of_animal(data.store, "Zoe")
    assert ids(cases_named(data.store, ["zoe-1", "zoe-2"])) == ["zoe-1", "zoe-2"]


def test_cases_of_two_animals_cannot_be_named_at_once(data):
    with pytest.raises(DictateError, match="cases of different animals"):
        cases_named(data.store, ["bo-1", "mila-1"])


@pytest.mark.parametrize("first", [0, 1, 2])
def test_every_two_of_the_cases_are_judged(data, first):
    """One without an owner reference stands between two of different owners."""
    owners = ["K-1", "", "K-2"]
    names = [f"max-{number}" for number in range(3)]
    for number, name in enumerate(names):
        keep(data.store, name, number, animal="Max", owner_reference=owners[number])
    with pytest.raises(DictateError, match="different animals"):
        cases_named(data.store, names[first:] + names[:first])


@pytest.mark.parametrize("name, told", [("Rex", "There is no case of Rex"), (" ", "Write the")])
def test_a_name_that_no_animal_has(data, name, told):
    with pytest.raises(DictateError, match=told):
        cases_of_animal(data.store, name)


def test_a_case_that_is_not_there(data):
    with pytest.raises(DictateError, match="There is no case nobody"):
        cases_named(data.store, ["bo-1", "nobody"])


# What is gone, and what stays


def test_cases_and_events_are_gone_and_all_others_stay(data):
    cases, events = rows(data.folder)
    assert deleted(data, cases_of_animal(data.store, "Mila"))
    left = [[row for row in table if not row[0].startswith("mila")] for table in (cases, events)]
    assert [list(each) for each in rows(data.folder)] == left


def test_nothing_of_them_is_left_in_the_file(data):
    assert b"Mila" in on_disk(data.folder)
    assert b"mila-1" in on_disk(data.folder)
    assert deleted(data, cases_of_animal(data.store, "Mila"))
    assert b"Mila" not in on_disk(data.folder)
    assert b"mila-" not in on_disk(data.folder)
    assert b"Tara" in on_disk(data.folder)


def test_the_file_grows_smaller(data):
    keep(data.store, "big-1", 1, *["note: " + "x" * 400] * 200, animal="Big")
    before = len(on_disk(data.folder))
    deleted(data, cases_named(data.store, ["big-1"]))
    assert len(on_disk(data.folder)) < before - 50_000


def test_another_program_that_reads_is_told_of(data):
    other = sqlite3.connect(data.folder / "cases.sqlite", isolation_level=None)
    other.execute("BEGIN")
    other.execute("SELECT count(*) FROM events").fetchone()
    assert not deleted(data, cases_of_animal(data.store, "Mila"))
    other.close()
    assert ids(data.store.cases()) == ["bo-1", "tara-1", "zoe-1", "zoe-2"]


def test_an_event_that_comes_later_is_refused(data):
    _, events = data.store.load("mila-2")
    deleted(data, cases_of_animal(data.store, "Mila"))
    with pytest.raises(DictateError):
        data.store.append("mila-2", [events[-1].model_copy(update={"sequence": 99})])
    assert b"mila-2" not in b"".join(row[0].encode() for row in rows(data.folder)[1])


def test_sounds_of_the_case_go_and_those_of_others_stay(data):
    sounding(data, "tara-1-2", animal="Tara", owner_reference="K-3")
    here = set(data.clips.names())
    deleted(data, cases_named(data.store, ["tara-1"]))
    gone = here - set(data.clips.names())
    assert len(gone) == 1 and all(name.startswith("tara-1-") for name in gone)
    assert all(name.startswith("tara-1-2-") for name in data.clips.names())


def test_the_sound_of_one_of_several_stations_goes_too(data):
    here = set(data.clips.names())
    sounding(data, "tara-3", station="0123abcd" * 4, animal="Tara", owner_reference="K-3")
    assert set(data.clips.names()) - here
    deleted(data, cases_named(data.store, ["tara-3"]))
    assert set(data.clips.names()) == here


def test_a_sound_that_no_note_names_goes_too(data):
    data.clips.keeper("tara-1")(SOUND, 999)
    deleted(data, cases_named(data.store, ["tara-1"]))
    assert data.clips.names() == []


def test_a_sound_is_overwritten_before_it_is_removed(data, tmp_path, monkeypatch):
    [name] = data.clips.names()
    path, seen = data.clips.path(name), []
    monkeypatch.setattr(type(path), "unlink", lambda self, **_: seen.append(self.read_bytes()))
    size = path.stat().st_size
    erase(path)
    assert seen == [bytes(size)]


def test_a_link_is_removed_and_what_it_leads_to_stays(tmp_path):
    own = tmp_path / "own"
    own.write_bytes(b"mine")
    (tmp_path / "soft").symlink_to(own)
    os.link(own, tmp_path / "hard")
    erase(tmp_path / "soft")
    erase(tmp_path / "hard")
    assert [path.name for path in tmp_path.iterdir()] == ["own"]
    assert own.read_bytes() == b"mine"


def test_what_cannot_be_erased_is_one_sentence(data, monkeypatch):
    def read_only(self, **_):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr("pathlib.Path.unlink", read_only)
    with pytest.raises(DictateError, match="cannot be erased"):
        deleted(data, cases_named(data.store, ["tara-1"]))
    assert "tara-1" in ids(data.store.cases())
    assert not (data.folder / LOG_FILE).exists()


def test_the_id_of_a_deleted_case_can_be_had_again(data):
    deleted(data, cases_named(data.store, ["tara-1"]))
    sounding(data, "tara-1", animal="Nils")
    assert data.store.load("tara-1")[0].animal == "Nils"


# The log


def test_the_log_says_when_how_much_and_why_and_names_nobody(data):
    deleted(data, cases_named(data.store, ["tara-1"]), "the owner asked for it")
    log = data.folder / LOG_FILE
    day = f"{NOW.astimezone():%Y-%m-%d}"
    assert log.read_text() == (
        f"{day}: 1 case with 9 events and 1 sound deleted; the owner asked for it\n"
    )
    assert stat.S_IMODE(log.stat().st_mode) == 0o600
    deleted(data, cases_named(data.store, ["bo-1"]))
    assert len(log.read_text().splitlines()) == 2


@pytest.mark.parametrize(
    "reason", ["Tara died", "asked for by K-3", "see tara-1", "for Dr. Ada Lind", "", "a\nb"]
)
def test_a_reason_that_names_somebody_is_refused(data, reason):
    going = what_goes(cases_named(data.store, ["tara-1"]), data.clips)
    with pytest.raises(DictateError):
        check_reason(reason, going)


def test_a_reason_may_have_a_short_name_within_a_word(data):
    check_reason("about the owner", what_goes(cases_named(data.store, ["bo-1"]), data.clips))


# How long sounds are kept


def aged(data, name, days):
    moment = (NOW - timedelta(days=days)).timestamp()
    os.utime(data.clips.path(name), (moment, moment))


def test_old_sounds_are_erased_and_newer_ones_stay(data):
    [old] = data.clips.names()
    new = data.clips.keeper("bo-1")(SOUND, 1)
    aged(data, old, 31)
    aged(data, new, 29)
    before = rows(data.folder)
    assert erase_old_sound(data.clips, data.folder, 30, NOW) == 1
    assert data.clips.names() == [new]
    assert rows(data.folder) == before
    assert "1 sound of a note deleted; older than 30 days" in (data.folder / LOG_FILE).read_text()


def test_no_days_are_for_good(data):
    aged(data, *data.clips.names(), 10_000)
    assert erase_old_sound(data.clips, data.folder, 0, NOW) == 0
    assert len(data.clips.names()) == 1
    assert not (data.folder / LOG_FILE).exists()


def test_where_nothing_is_old_nothing_is_logged(data):
    aged(data, *data.clips.names(), 1)
    assert erase_old_sound(data.clips, data.folder, 30, NOW) == 0
    assert not (data.folder / LOG_FILE).exists()


@pytest.mark.parametrize("kept", [True, False])
def test_a_spoken_note_keeps_its_sound_unless_that_is_turned_off(tmp_path, monkeypatch, kept):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    (tmp_path / SETTINGS_FILE).write_text(f"[keep]\nnote_sound = {str(kept).lower()}\n")
    source = source_in(tmp_path)
    session = stored_session(source.store, keep(source.store, "nils-1", 1, animal="Nils"))
    session.type_text("take a note")
    audio = UtteranceAudio(np.zeros(16_000, np.int16), 0.0, 1.0)
    session.hear(Hypothesis("calm", score=1.0, trust="sure", engine="sphinx"), audio)
    session.keep_undecoded(audio, "note")
    notes = session.chart.notes
    assert notes and all((note.clip is not None) == kept for note in notes)
    assert bool(source.clips.names()) == kept
