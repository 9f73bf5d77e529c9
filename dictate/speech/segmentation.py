"""Cuts a stream of sound into utterances, through steady noise and at any gain."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np

from dictate.speech.audio import SAMPLE_RATE, AudioSource, Samples, UtteranceAudio
from dictate.speech.level import (
    FRAME_S,
    FRAME_SAMPLES,
    Frame,
    Listener,
    ListeningSettings,
    contrast_db,
)


@dataclass(frozen=True)
class SegmenterSettings:
    """Lengths in s (rounded to frames of 30 ms) and levels; the defaults are measured ones."""

    pre_roll_s: float = 0.3
    """Sound kept from before the first speech."""
    end_silence_s: float = 0.57
    """An utterance ends after this long without speech in a quiet room."""
    noisy_end_silence_s: float = 0.75
    """The same in noise, which buries weak sounds and so makes pauses longer."""
    noisy_below_db: float = 30.0
    """It is noisy when speech is less than this above the noise."""
    tail_s: float = 0.3
    """Sound kept after the last speech."""
    pause_s: float = 0.36
    """After this long without speech an utterance may be over; `tail_s` or more."""
    minimum_speech_s: float = 0.09
    """Less speech than this is a click (noise leaves no more of some words); 0.09 or more."""
    maximum_s: float = 15.0
    """A longer utterance is cut, at the quietest place of its last `cut_search_s`."""
    cut_search_s: float = 3.0
    begin_db: float = 3.5
    """How far (see `excess_db`) frames stand out that begin an utterance."""
    keep_db: float = 2.5
    """How far frames stand out that keep one going."""
    contrast_db: float = 7.0
    """How far (see `contrast_db`) speech stands out of its own pauses and of what follows it."""
    steady_after_s: float = 0.75
    """Speech of this length has pauses of its own to be compared with."""
    listening: ListeningSettings = field(default_factory=ListeningSettings)


@dataclass(frozen=True)
class SpeechBegan:
    """Speech was found; the utterance with its pre-roll starts at `start_s` of the stream."""

    start_s: float


@dataclass(frozen=True, eq=False)
class SpeechAudio:
    """The next samples, shape (n,), of the running utterance.

    Those of one utterance, joined, are exactly the samples of its SpeechEnded.
    """

    samples: Samples


@dataclass(frozen=True, eq=False)
class SpeechPaused:
    """Nobody has spoken for `pause_s`. If no more speech comes, SpeechEnded will have the samples
    of `utterance`, all of which have been handed on.

    Told once in each pause; not where as yet it sounds like no speech, nor where the utterance may
    still be cut before its end.
    """

    utterance: UtteranceAudio


@dataclass(frozen=True, eq=False)
class SpeechEnded:
    """The running utterance is complete; its times count from the start of the stream."""

    utterance: UtteranceAudio


@dataclass(frozen=True)
class SpeechDropped:
    """The running utterance was no speech after all: a click, or noise that set in."""


SegmentEvent: TypeAlias = SpeechBegan | SpeechAudio | SpeechPaused | SpeechEnded | SpeechDropped


@dataclass
class _Utterance:
    """The running utterance. `first_frame` counts from the stream's start, the rest from its."""

    first_frame: int
    frames: list[Frame]
    first_speech: int
    last_speech: int
    sent: int = 0
    continues_another: bool = False

    def speech(self) -> list[Frame]:
        return self.frames[self.first_speech : self.last_speech + 1]

    def after_speech(self) -> list[Frame]:
        return self.frames[self.last_speech + 1 :]


class Segmenter:
    """Cuts sound pushed into it, in blocks of any length, into utterances.

    Where it cuts does not depend on the lengths of the blocks. It keeps no more sound than the
    running utterance.
    """

    def __init__(self, settings: SegmenterSettings | None = None) -> None:
        """Begin at 0 s of a stream."""
        self.settings = settings or SegmenterSettings()
        self._begin_afresh()

    def _begin_afresh(self) -> None:
        self._listener = Listener(self.settings.listening)
        self._unframed: Samples = np.zeros(0, np.int16)
        self._before: list[Frame] = []
        self._running: _Utterance | None = None
        self._taken = 0

    def push(self, samples: Samples) -> list[SegmentEvent]:
        """Take the next block, shape (n,), and return what came of it, in order."""
        joined = np.concatenate([self._unframed, samples])
        whole = len(joined) - len(joined) % FRAME_SAMPLES
        self._unframed = joined[whole:].copy()
        events: list[SegmentEvent] = []
        for frame in self._listener.judge(joined[:whole].reshape(-1, FRAME_SAMPLES)):
            events += self._take(frame)
        return events + self._certain_audio()

    def flush(self) -> list[SegmentEvent]:
        """End the stream and close the running utterance; then begin afresh at 0 s."""
        events: list[SegmentEvent] = []
        if self._unframed.size:
            padded = np.zeros((1, FRAME_SAMPLES), np.int16)
            padded[0, : self._unframed.size] = self._unframed
            (frame,) = self._listener.judge(padded)
            frame.samples = self._unframed
            events += self._take(frame)
        if self._running is not None:
            events += self._end(self._running)
        self._begin_afresh()
        return events

    def _take(self, frame: Frame) -> list[SegmentEvent]:
        self._taken += 1
        if self._running is None:
            return self._wait(frame)
        return self._go_on(self._running, frame)

    def _wait(self, frame: Frame) -> list[SegmentEvent]:
        """Begin an utterance once two of three frames are speech."""
        pre_roll = _frames(self.settings.pre_roll_s)
        self._before = [*self._before[-pre_roll - 2 :], frame]
        count = len(self._before)
        speech = [i for i in self._speech_in(self._before) if i >= count - 3]
        if len(speech) < 2:
            return []
        frames = self._before[max(0, speech[0] - pre_roll) :]
        return self._begin(frames, self._taken - len(frames))

    def _speech_in(self, frames: list[Frame]) -> list[int]:
        return [i for i, frame in enumerate(frames) if frame.is_speech(self.settings.begin_db)]

    def _begin(
        self, frames: list[Frame], first_frame: int, *, continues_another: bool = False
    ) -> list[SegmentEvent]:
        speech = self._speech_in(frames)
        self._running = _Utterance(
            first_frame, frames, speech[0], speech[-1], continues_another=continues_another
        )
        self._before = []
        return [SpeechBegan(first_frame * FRAME_S)]

    def _go_on(self, utterance: _Utterance, frame: Frame) -> list[SegmentEvent]:
        utterance.frames.append(frame)
        keep_db = self.settings.keep_db
        neighbours = utterance.frames[-3:-1]
        if frame.is_speech(keep_db) and any(other.is_speech(keep_db) for other in neighbours):
            utterance.last_speech = len(utterance.frames) - 1
        if len(utterance.after_speech()) >= self._silence_to_end(utterance):
            return self._end(utterance)
        if len(utterance.frames) >= _frames(self.settings.maximum_s):
            return self._cut(utterance)
        if len(utterance.after_speech()) == _frames(self.settings.pause_s):
            return self._pause(utterance)
        return []

    def _silence_to_end(self, utterance: _Utterance) -> int:
        settings = self.settings
        shortest = _frames(settings.end_silence_s)
        if len(utterance.after_speech()) < shortest:
            return shortest
        above_noise = np.median([f.level_dbfs - f.noise_dbfs for f in utterance.speech()])
        if above_noise >= settings.noisy_below_db:
            return shortest
        return _frames(settings.noisy_end_silence_s)

    def _certain_audio(self) -> list[SegmentEvent]:
        """Hand on what is part of the running utterance whatever follows."""
        if self._running is None:
            return []
        return _audio(self._running, min(self._kept(self._running), self._never_cut()))

    def _never_cut(self) -> int:
        return _frames(self.settings.maximum_s) - _frames(self.settings.cut_search_s)

    def _kept(self, utterance: _Utterance) -> int:
        tail = _frames(self.settings.tail_s)
        return min(len(utterance.frames), utterance.last_speech + 1 + tail)

    def _pause(self, utterance: _Utterance) -> list[SegmentEvent]:
        kept = self._kept(utterance)
        if kept > self._never_cut() or not self._is_speech(utterance):
            return []
        return [*_audio(utterance, kept), SpeechPaused(_whole(utterance, kept))]

    def _end(self, utterance: _Utterance) -> list[SegmentEvent]:
        self._running = None
        if not self._is_speech(utterance):
            self._before = utterance.frames
            return [SpeechDropped()]
        kept = self._kept(utterance)
        self._before = utterance.frames[kept:]
        return _complete(utterance, kept)

    def _cut(self, utterance: _Utterance) -> list[SegmentEvent]:
        """End an utterance that grew too long at its quietest place; go on with the rest."""
        search = _frames(self.settings.cut_search_s)
        loudness = [frame.level_dbfs for frame in utterance.frames[-search:]]
        smoothed = np.convolve(loudness, np.full(5, 0.2), mode="valid")
        cut = len(utterance.frames) - search + int(np.argmin(smoothed)) + 2
        rest = utterance.frames[cut:]
        self._running, self._before = None, rest
        events = _complete(utterance, cut)
        if self._speech_in(rest):
            events += self._begin(rest, utterance.first_frame + cut, continues_another=True)
        return events

    def _is_speech(self, utterance: _Utterance) -> bool:
        """Judge a whole utterance: long enough to be speech, and not as steady as noise."""
        settings = self.settings
        if utterance.continues_another:
            return True
        speech, after = utterance.speech(), utterance.after_speech()
        if len(speech) < max(3, _frames(settings.minimum_speech_s)):
            return False
        levels = np.stack([frame.levels for frame in speech])
        quiet = []
        if len(speech) >= _frames(settings.steady_after_s):
            quiet.append(np.percentile(levels, 15, axis=0))
        if len(after) >= _frames(settings.tail_s):
            quiet.append(np.median([frame.levels for frame in after], axis=0))
        return all(contrast_db(levels, each) >= settings.contrast_db for each in quiet)


def _frames(seconds: float) -> int:
    return round(seconds / FRAME_S)


def _joined(frames: list[Frame]) -> Samples:
    return np.concatenate([np.zeros(0, np.int16), *(frame.samples for frame in frames)])


def _audio(utterance: _Utterance, end: int) -> list[SegmentEvent]:
    """Hand on the frames of an utterance up to `end` that have not been handed on yet."""
    fresh = utterance.frames[utterance.sent : end]
    utterance.sent = max(utterance.sent, end)
    return [SpeechAudio(_joined(fresh))] if fresh else []


def _complete(utterance: _Utterance, kept: int) -> list[SegmentEvent]:
    return [*_audio(utterance, kept), SpeechEnded(_whole(utterance, kept))]


def _whole(utterance: _Utterance, kept: int) -> UtteranceAudio:
    samples = _joined(utterance.frames[:kept])
    start_s = utterance.first_frame * FRAME_S
    return UtteranceAudio(samples, start_s, start_s + len(samples) / SAMPLE_RATE)


def utterances(
    source: AudioSource, settings: SegmenterSettings | None = None
) -> Iterator[UtteranceAudio]:
    """Yield the utterances of a source that ends, in order, with its name as their `file`.

    Raises whatever `source.blocks()` raises.
    """
    segmenter = Segmenter(settings)
    for block in source.blocks():
        yield from _ended(segmenter.push(block), source.name)
    yield from _ended(segmenter.flush(), source.name)


def _ended(events: list[SegmentEvent], file: str) -> Iterator[UtteranceAudio]:
    for event in events:
        if isinstance(event, SpeechEnded):
            yield replace(event.utterance, file=file)


def whole_file(source: AudioSource) -> UtteranceAudio:
    """Return all of a source as one utterance, for a file in which no speech was found.

    Raises whatever `source.blocks()` raises.
    """
    samples = np.concatenate([np.zeros(0, np.int16), *source.blocks()])
    return UtteranceAudio(samples, 0.0, len(samples) / SAMPLE_RATE, source.name)
