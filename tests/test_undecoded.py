"""What was said while the speech engine failed: its sound is kept, and nothing is charted of it."""

import numpy as np

from dictate.cases.stored import case_store, clip_store, stored_session
from dictate.chart.case import Case
from dictate.chart.events import Noted
from dictate.errors import DictateError
from dictate.listening.listener import EngineEnded, Undecoded
from dictate.report.record import record_of
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import NOTE
from tests.screen_pilot import (
    OPENED,
    SMALL,
    Listening,
    app_of,
    screen_of,
    see,
    session_of,
    understood,
)

AUDIO = UtteranceAudio(np.arange(1600, dtype=np.int16), 1.0, 1.1)


def kept_session(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    store = case_store()
    case = Case(id="mila-1", species="dog", opened=OPENED)
    store.add_case(case)
    return stored_session(store, case)


def test_its_sound_is_kept_and_is_in_the_record(tmp_path, monkeypatch):
    session = kept_session(tmp_path, monkeypatch)
    session.type_text("208")
    heard = session.keep_undecoded(AUDIO)
    assert (heard.outcome, heard.reason) == ("refused", "The speech engine failed: say it again.")
    (note,) = record_of(session.case, session.events).chart.notes
    assert (note.tooth, note.verified) == (208, False)
    (path,) = clip_store().copy([note.clip], tmp_path)
    assert path.stat().st_size > 100
    assert not session.chart.findings


def test_after_it_a_finding_without_a_tooth_is_refused():
    session = session_of(phrases=["208"])
    session.keep_undecoded(AUDIO)
    assert session.hear(understood("calculus two").hypothesis).outcome == "refused"


def test_a_note_of_which_there_is_only_the_sound_is_a_note(tmp_path, monkeypatch):
    session = kept_session(tmp_path, monkeypatch)
    session.hear(understood("take a note").hypothesis)
    heard = session.keep_undecoded(AUDIO, NOTE)
    assert heard.outcome == "charted"
    assert not session.note_is_due
    (note,) = session.chart.notes
    assert note.clip


def test_undo_takes_its_sound_out_of_the_record_again(tmp_path, monkeypatch):
    session = kept_session(tmp_path, monkeypatch)
    session.keep_undecoded(AUDIO)
    session.type_text("undo")
    assert not session.chart.notes
    assert [each for each in session.events if isinstance(each.what, Noted)]


async def test_the_screen_says_that_the_engine_failed_and_typing_goes_on():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(EngineEnded())
        await see(pilot, "The speech engine failed and is started again")
        await pilot.press(*"208 normal", "enter")
        await see(pilot, "✓ charted  “208 normal”")
        listening.says(Undecoded(AUDIO, "charting"))
        await see(pilot, "The speech engine failed: say it again.")
        assert "Not listening" not in screen_of(app)


async def test_a_sound_that_cannot_be_kept_is_said():
    def no_room(samples, number):
        raise DictateError("There is no room: make some.")

    listening = Listening()
    app = app_of(session_of(keep_clip=no_room), listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Undecoded(AUDIO, "charting"))
        await see(pilot, "There is no room: make some.")
