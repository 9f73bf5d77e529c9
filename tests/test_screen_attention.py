"""Listening, not listening and speaking on the screen, by voice, key and foot-switch."""

import numpy as np
import pytest

from dictate.listening.listener import Level, Missed, Partial, Stopped
from dictate.screen import attending
from dictate.screen.app import ChartingApp
from dictate.settings import AttentionSettings, Settings, SoundSettings
from dictate.sounds.answers import Answers
from dictate.sounds.tones import tone
from dictate.sounds.turns import Turns
from dictate.speech.audio import UtteranceAudio
from tests.screen_pilot import (
    LARGE,
    OPENED,
    SMALL,
    Listening,
    enter,
    screen_of,
    see,
    session_of,
    understood,
)
from tests.test_sounds import FakeOutput, wait_for


@pytest.fixture(autouse=True)
def quick_feet(monkeypatch):
    """Keys follow on each other faster in a test than a foot could press."""
    monkeypatch.setattr(attending, "_REPEATED_S", 0.0)


def app_of(session, listening, answers=None, **attention):
    settings = Settings(attention=AttentionSettings(**attention))
    return ChartingApp(session, listening, lambda: OPENED, answers, settings)


def answers_on(output, **settings):
    return Answers(SoundSettings(**settings), Turns(0.0), output, lambda words, s: np.ones(9))


def played(output, name):
    return any(np.array_equal(each, tone(name, 0.5)) for each in output.played)


async def heard_at_all(pilot, listening):
    listening.says(Level(-30.0, False))
    await see(pilot, "● LISTENING")


async def test_stopped_by_voice_nothing_is_shown_or_charted_until_it_is_started():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        assert "F5 stop" in screen_of(app)
        listening.says(understood("stop listening"))
        await see(pilot, "■ NOT LISTENING")
        await see(pilot, "say “start listening”, or F5")
        assert "F5 listen" in screen_of(app)
        before = session.events
        listening.says(Partial("two oh eight mis"), understood("two oh eight missing"))
        await pilot.pause(0.2)
        assert "two oh eight" not in screen_of(app)
        assert session.events == before
        listening.says(understood("start listening"))
        await see(pilot, "● LISTENING")
    assert not session.chart.findings


@pytest.mark.parametrize("size", [SMALL, LARGE])
@pytest.mark.parametrize("key", ["f5", "f13", "b"])
async def test_a_key_and_a_foot_switch_stop_and_start_listening(key, size):
    session, listening = session_of(), Listening()
    app = app_of(session, listening, foot_switch=key if key != "f5" else "")
    async with app.run_test(size=size) as pilot:
        await heard_at_all(pilot, listening)
        await pilot.press(key)
        await see(pilot, "■ NOT LISTENING")
        assert not session.is_listening
        await pilot.press(key)
        await see(pilot, "● LISTENING")
        await pilot.press("f5")
        await see(pilot, "■ NOT LISTENING")
    assert [each.what.text for each in session.heard][:2] == ["stop listening", "start listening"]


async def test_a_foot_that_stays_on_the_switch_stops_listening_once(monkeypatch):
    monkeypatch.setattr(attending, "_REPEATED_S", 60.0)
    session, listening = session_of(), Listening()
    app = app_of(session, listening, foot_switch="f13")
    app._pressed_at = -60.0
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        await pilot.press("f13", "f13", "f13", "f13")
        await see(pilot, "■ NOT LISTENING")
    assert len(session.heard) == 1


async def test_a_foot_switch_works_in_the_view_of_what_follows():
    session, listening = session_of(phrases=["208 calculus 2"]), Listening()
    app = app_of(session, listening, foot_switch="f13")
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        await pilot.press("f7", "f13")
        await see(pilot, "■ NOT LISTENING")


async def test_typed_phrases_are_charted_while_not_listening():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        await pilot.press("f5")
        await enter(pilot, "208 missing")
        await see(pilot, "✓ charted  “208 missing”")
        await see(pilot, "■ NOT LISTENING")


async def test_a_note_that_waits_is_on_the_screen():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        listening.says(understood("take a note"))
        await see(pilot, "taking a note")
        await pilot.press("f5")
        await see(pilot, "a note waits")
        await see(pilot, "■ NOT LISTENING")
        await pilot.press("f5")
        await see(pilot, "taking a note")


async def test_after_a_problem_one_key_listens_again_even_where_it_was_stopped_before():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        await pilot.press("f5")
        listening.says(Stopped("The microphone is gone: plug it in."))
        await see(pilot, "✗ NOT LISTENING")
        await pilot.press("f5")
        await heard_at_all(pilot, listening)
    assert len(listening.made) == 2
    assert session.is_listening


async def test_what_is_said_is_answered_by_sound_and_what_is_typed_is_not():
    session, listening, output = session_of(), Listening(), FakeOutput()
    app = app_of(session, listening, answers_on(output))
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        await enter(pilot, "208")
        assert output.played == []
        listening.says(understood("calculus two"))
        await pilot.pause(0.1)
        wait_for(lambda: played(output, "charted"))
        listening.says(understood("pocket five", trust="doubtful"))
        await pilot.pause(0.1)
        wait_for(lambda: played(output, "query"))
        listening.says(understood("calculus nine"))
        await pilot.pause(0.1)
        wait_for(lambda: played(output, "refused"))
        await pilot.press("f5")
        await pilot.pause(0.1)
        wait_for(lambda: played(output, "stopped"))


async def test_speaking_is_on_the_screen_and_escape_ends_it():
    session, listening, output = session_of(), Listening(), FakeOutput()
    output.go_on.clear()
    app = app_of(session, listening, answers_on(output, read_back="all"))
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        listening.says(understood("two oh eight missing"))
        await see(pilot, "♪ SPEAKING")
        await pilot.press("escape")
        await see(pilot, "● LISTENING")
    assert output.cut == 1


async def test_sounds_are_turned_off_and_on_by_a_key_and_by_voice():
    session, listening, output = session_of(), Listening(), FakeOutput()
    answers = answers_on(output)
    app = app_of(session, listening, answers)
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        await pilot.press("f8")
        await see(pilot, "sounds off")
        assert not answers.are_on
        listening.says(understood("sounds on"))
        await see(pilot, "Answers by sound.")
        assert answers.are_on
    assert [each.what.text for each in session.heard] == ["sounds off", "sounds on"]


async def test_no_loudspeaker_is_told_in_one_sentence():
    listening, output = Listening(), FakeOutput(problem="No sounds: connect a loudspeaker.")
    app = app_of(session_of(), listening, answers_on(output))
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        listening.says(understood("two oh eight missing"))
        await see(pilot, "! No sounds: connect a loudspeaker.")
        listening.says(understood("two oh nine missing"))
        await see(pilot, "“two oh nine missing”")
        assert screen_of(app).count("connect a loudspeaker") == 1


async def test_an_utterance_without_its_beginning_is_refused_and_answered_once():
    session, listening, output = session_of(), Listening(), FakeOutput()
    app = app_of(session, listening, answers_on(output))
    missed = Missed(UtteranceAudio(np.zeros(160, np.int16), 1.0, 2.0))
    async with app.run_test(size=SMALL) as pilot:
        await heard_at_all(pilot, listening)
        listening.says(missed)
        await see(pilot, "Its beginning was not heard")
        listening.says(missed, missed)
        await pilot.pause(0.3)
    assert len(session.heard) == 3
    assert len(output.played) == 1
