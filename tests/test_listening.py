"""An utterance is recognised while the silence lasts that ends it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import TypeAlias

import numpy as np
import pytest

from dictate.errors import DictateError
from dictate.grammar.spoken import WAITING, spoken_languages
from dictate.listening.listener import (
    CUT_SHORT,
    Listener,
    ListeningEvent,
    Missed,
    Partial,
    Stopped,
    Understood,
)
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.recogniser import NOTE, Hypothesis
from dictate.speech.segmentation import utterances
from dictate.speech.sphinx import SphinxRecogniser
from tests.fixture_replay import FIXTURES, MANIFEST

PAUSE_S = 0.45
"""Silence after which an utterance may be over, but is not yet."""

Piece: TypeAlias = Samples | float | Callable[[], None]


class Pieces:
    """Sound, silence (s) and things to do, in turn, in a quiet room. `at_s` is what was given."""

    name = "pieces"

    def __init__(self, *pieces: Piece) -> None:
        self._pieces = pieces
        self.at_s = 0.0

    def blocks(self) -> Iterator[Samples]:
        room = np.random.default_rng(1)
        for piece in self._pieces:
            if callable(piece):
                piece()
                continue
            if isinstance(piece, float):
                piece = np.zeros(round(piece * SAMPLE_RATE), np.int16)
            sound = piece + room.integers(-8, 9, len(piece)).astype(np.int16)
            for first in range(0, len(sound), 480):
                block = sound[first : first + 480]
                self.at_s += len(block) / SAMPLE_RATE
                yield block


class Engine:
    """Hears how long (samples) what it was fed is. It must be fed with the whole of an utterance,
    from its start, before it is told that the utterance is over; and then be started again."""

    name = "fake"

    def __init__(self) -> None:
        self.fed: list[Samples] | None = None
        self.context = ""
        self.finished: list[tuple[str, Samples]] = []
        self.finished_at_s: list[float] = []
        self.clock: Callable[[], float] = float

    def attend(self, context: str) -> None:
        self.context = context

    def start(self) -> None:
        self.fed = []

    def feed(self, samples: Samples) -> str:
        assert self.fed is not None, "fed without being started"
        self.fed.append(samples)
        return str(sum(map(len, self.fed)))

    def finish(self, samples: Samples) -> Hypothesis:
        assert self.fed is not None, "over twice"
        np.testing.assert_array_equal(np.concatenate(self.fed), samples)
        self.fed = None
        self.finished.append((self.context, samples))
        self.finished_at_s.append(self.clock())
        return Hypothesis(f"{self.context} {len(samples)}", score=0.9, trust="sure")


class Heard:
    """What a listener told of some pieces, each with the time (s) at which it was told."""

    def __init__(self, *pieces: Piece, context: Callable[[], str] = lambda: "charting") -> None:
        self.engine = Engine()
        self.told: list[tuple[float, ListeningEvent]] = []
        source = Pieces(*pieces)
        self.engine.clock = lambda: source.at_s
        Listener(
            source,
            lambda: self.engine,
            lambda event: self.told.append((source.at_s, event)),
            context,
        ).run()

    @property
    def understood(self) -> list[Understood]:
        return [event for _, event in self.told if isinstance(event, Understood)]

    @property
    def thrown_away_s(self) -> float:
        made = sum(len(samples) for _, samples in self.engine.finished)
        return (made - sum(len(each.audio.samples) for each in self.understood)) / SAMPLE_RATE


class Wanted:
    """What is listened for, changed while the source runs."""

    def __init__(self) -> None:
        self.context = "charting"

    def __call__(self) -> str:
        return self.context

    def change(self, context: str) -> Callable[[], None]:
        return lambda: setattr(self, "context", context)


@cache
def clip() -> Samples:
    """An utterance of 2 s or so without silence around it."""
    row = next(row for row in MANIFEST["sentences"] if row["voice"] == "flite_slt")
    (first, *_) = utterances(AudioFile(FIXTURES / row["file"]))
    loud = np.flatnonzero(np.abs(first.samples) > 300)
    return first.samples[loud[0] : loud[-1]]


def test_an_utterance_is_recognised_before_it_is_over_and_told_when_it_is() -> None:
    heard = Heard(1.0, clip(), 1.0)
    (told_at_s,) = [at_s for at_s, event in heard.told if isinstance(event, Understood)]
    (finished_at_s,) = heard.engine.finished_at_s
    assert told_at_s - finished_at_s == pytest.approx(0.21, abs=0.001)


def test_what_was_recognised_is_the_whole_utterance() -> None:
    heard = Heard(1.0, clip(), 1.0)
    (one,) = heard.understood
    assert one.hypothesis.text == f"charting {len(one.audio.samples)}"


def test_speech_that_goes_on_after_a_pause_is_one_utterance_recognised_whole() -> None:
    heard = Heard(1.0, clip(), PAUSE_S, clip(), 1.0)
    (one,) = heard.understood
    assert one.hypothesis.text == f"charting {len(one.audio.samples)}"
    assert len(one.audio.samples) > 2 * len(clip())
    assert len(heard.engine.finished) == 2


def test_words_are_shown_of_the_whole_utterance_after_a_pause() -> None:
    heard = Heard(1.0, clip(), PAUSE_S, clip(), 1.0)
    shown = [int(event.text) for _, event in heard.told if isinstance(event, Partial) if event.text]
    assert shown == sorted(shown)
    assert shown[-1] == len(heard.understood[0].audio.samples)


def test_another_part_of_the_visit_in_a_pause_makes_it_be_recognised_again() -> None:
    wanted = Wanted()
    heard = Heard(1.0, clip(), PAUSE_S, wanted.change("radiographs"), 1.0, context=wanted)
    (one,) = heard.understood
    assert one.hypothesis.text.startswith("radiographs ")
    assert [context for context, _ in heard.engine.finished] == ["charting", "radiographs"]


def test_a_key_that_stops_listening_in_a_pause_takes_what_was_recognised() -> None:
    wanted = Wanted()
    heard = Heard(1.0, clip(), PAUSE_S, wanted.change(WAITING), 1.0, context=wanted)
    (one,) = heard.understood
    assert (one.listened_for, one.hypothesis.trust) == ("charting", "sure")
    assert len(heard.engine.finished) == 1


def test_a_note_is_recognised_only_when_it_is_over() -> None:
    heard = Heard(1.0, clip(), PAUSE_S, clip(), 1.0, context=lambda: NOTE)
    assert len(heard.understood) == len(heard.engine.finished) == 1


def test_an_utterance_that_began_unheard_is_not_recognised_in_its_pauses() -> None:
    wanted, sound = Wanted(), clip()
    wanted.context = WAITING
    half = len(sound) // 2
    pieces = (1.0, sound[:half], wanted.change("charting"), sound[half:])
    heard = Heard(*pieces, PAUSE_S, sound, 1.0, context=wanted)
    assert any(isinstance(event, Missed) for _, event in heard.told)
    assert heard.engine.finished == []


def test_an_utterance_that_ends_the_recording_in_a_pause_is_recognised_once() -> None:
    heard = Heard(1.0, clip(), PAUSE_S)
    assert len(heard.understood) == len(heard.engine.finished) == 1


def test_however_many_pauses_are_made_little_is_recognised_in_vain() -> None:
    breathless: list[Piece] = [clip()[:12_000], PAUSE_S] * 120
    heard = Heard(1.0, *breathless, 1.0)
    heard_s = 120 * (0.75 + PAUSE_S)
    assert 0.1 * heard_s < heard.thrown_away_s <= 12.0 + 0.25 * heard_s


def test_the_listener_hears_what_a_replay_hears() -> None:
    (sound,) = [np.concatenate(list(AudioFile(FIXTURES / "whole_mouth/dictation.flac").blocks()))]
    part = Pieces(sound[: 12 * SAMPLE_RATE])
    told: list[ListeningEvent] = []
    Listener(part, lambda: SphinxRecogniser(spoken_languages()), told.append).run()
    engine = SphinxRecogniser(spoken_languages())
    replayed = [engine.finish(each.samples) for each in utterances(part)]
    live = [event.hypothesis for event in told if isinstance(event, Understood)]
    assert [(each.text, each.trust) for each in live] == [
        (each.text, each.trust) for each in replayed
    ]
    assert len(live) >= 3


class HearsAll:
    """An engine that is sure of one sentence, whatever it hears."""

    name = "sure"

    def attend(self, context: str) -> None: ...

    def start(self) -> None: ...

    def feed(self, samples: Samples) -> str:
        return ""

    def finish(self, samples: Samples) -> Hypothesis:
        return Hypothesis("two oh eight", trust="sure")


def test_what_was_being_said_when_the_microphone_was_unplugged_is_asked_about():
    def unplug() -> None:
        raise DictateError("The microphone has gone silent; plug it in again.")

    sound = np.concatenate(list(AudioFile(FIXTURES / "whole_mouth/dictation.flac").blocks()))
    first = next(iter(utterances(Pieces(sound[: 20 * SAMPLE_RATE]))))
    cut = round((first.start_s + 0.7) * SAMPLE_RATE)
    told: list[ListeningEvent] = []
    Listener(Pieces(sound[:cut], unplug), HearsAll, told.append, lambda: "charting").run()
    (understood,) = [each for each in told if isinstance(each, Understood)]
    assert (understood.hypothesis.trust, understood.hypothesis.reason) == ("doubtful", CUT_SHORT)
    assert told[-1] == Stopped("The microphone has gone silent; plug it in again.")
