"""What the tests of the screen share: sessions, a listener that is told what to tell, and eyes."""

import threading
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.listening.listener import Understood
from dictate.screen.app import ChartingApp
from dictate.screen.entry import PhraseInput
from dictate.session.session import Session
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
SMALL, LARGE = (80, 24), (120, 40)


def session_of(species="dog", phrases=(), animal="Mila", **settings):
    case = Case(id="mila-1", species=species, opened=OPENED, animal=animal)
    session = Session(case, spoken_languages(), **settings)
    for phrase in phrases:
        session.type_text(phrase)
    return session


def app_of(session, listen=None):
    return ChartingApp(session, listen, now=lambda: OPENED + timedelta(seconds=754))


class FakeListener:
    """Tells what a test asks it to, from a thread of its own."""

    def __init__(self, tell, context):
        self.tell = tell
        self.context = context
        self.calls = []

    def start(self):
        self.calls.append("start")

    def stop(self):
        self.calls.append("stop")

    def join(self, timeout):
        self.calls.append("join")

    def says(self, *events):
        thread = threading.Thread(target=lambda: [self.tell(event) for event in events])
        thread.start()
        thread.join()


class Listening:
    """Makes fake listeners and keeps them."""

    def __init__(self):
        self.made = []

    def __call__(self, tell, context):
        self.made.append(FakeListener(tell, context))
        return self.made[-1]

    def says(self, *events):
        self.made[-1].says(*events)


def understood(text, trust="sure", **details):
    audio = UtteranceAudio(np.zeros(160, np.int16), start_s=1.5, end_s=2.5, file="one.wav")
    return Understood(Hypothesis(text, score=0.9, trust=trust, engine="fake", **details), audio)


def screen_of(app):
    """The lines of the screen as text."""
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def see(pilot, words):
    """Wait until words are on the screen; fail with the screen if they do not come."""
    for _ in range(40):
        await pilot.pause(0.05)
        if words in screen_of(pilot.app):
            return
    pytest.fail(f"{words!r} is not on the screen:\n{screen_of(pilot.app)}")


async def enter(pilot, phrase):
    pilot.app.query_one(PhraseInput).value = phrase
    await pilot.press("enter")
    await pilot.pause()
