"""Of what is heard, only the sound of notes is kept, and of what failed to be decoded."""

import numpy as np

from dictate.cases.stored import case_store, stored_session
from dictate.chart.case import Case
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis
from tests.whole_case import CASE, OPENED

LENGTH = 16_000
SOUND = np.random.default_rng(1).integers(-9000, 9000, LENGTH).astype(np.int16)
AUDIO = UtteranceAudio(SOUND, 0.0, 1.0)


def session_in(folder, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(folder))
    store, case = case_store(), Case(id=CASE, species="dog", opened=OPENED)
    store.add_case(case)
    return stored_session(store, case)


def hears(session, *phrases, trust="sure"):
    for phrase in phrases:
        heard = Hypothesis(phrase, score=0.9, trust=trust, engine="sphinx")
        session.hear(heard, AUDIO)


def kept_in(folder):
    """Names of the files that are kept beside the cases."""
    names = {path.name for path in folder.rglob("*") if path.is_file()}
    return names - {"cases.sqlite", "cases.sqlite-wal", "cases.sqlite-shm", "station"}


def test_the_sound_of_findings_doubts_and_chatter_is_kept_nowhere(tmp_path, monkeypatch):
    session = session_in(tmp_path, monkeypatch)
    hears(session, "two oh eight calculus two", "undo", "stop listening")
    hears(session, "start listening")
    hears(session, "two oh nine calculus three", trust="doubtful")
    hears(session, "good morning", trust="foreign")
    assert len(session.heard) >= 5
    assert kept_in(tmp_path) == set()
    written = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    assert SOUND.tobytes()[:64] not in written


def test_the_sound_of_a_note_is_kept_under_the_case_and_its_number(tmp_path, monkeypatch):
    session = session_in(tmp_path, monkeypatch)
    hears(session, "take a note", "gums bleed")
    (note,) = session.chart.notes
    assert kept_in(tmp_path) == {note.clip} == {f"{CASE}-2.flac"}
    assert (tmp_path / "clips" / note.clip).stat().st_size > LENGTH


def test_so_is_that_of_what_was_not_decoded(tmp_path, monkeypatch):
    session = session_in(tmp_path, monkeypatch)
    session.keep_undecoded(AUDIO)
    assert kept_in(tmp_path) == {f"{CASE}-1.flac"}


def test_the_sound_stays_until_somebody_deletes_it(tmp_path, monkeypatch):
    """As docs/security.md says: undo takes a note out of the record only."""
    session = session_in(tmp_path, monkeypatch)
    hears(session, "take a note", "gums bleed", "undo")
    assert session.chart.notes == ()
    assert kept_in(tmp_path) == {f"{CASE}-2.flac"}
