"""Print how long after the last sound of an utterance it is charted, and what that costs.

    python -m tests.benchmarks.delay

A recording is played to the listener at the pace of speech, by a clock of its own: a block of sound
comes when it has been recorded, or when the listener is done with those before. Time passes with
the sound and with the processor time that is spent, so that the figures are those of one core
without other work, however busy the machine is. Not in them: storing the events, drawing the
screen, and the sound card's own delay.

Each recording is played as it is and in pink noise, recognising an utterance when it is over
("after") and already while it may be over ("ahead", what the program does).
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audio_fixtures.expected import OPENED, blank_session
from audio_fixtures.noises import pink_noise
from audio_fixtures.sound import SPEECH_DBFS, at_level, generator
from audio_fixtures.texts import visit
from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.listening.listener import Listener, ListeningEvent, Missed, Understood
from dictate.session.session import Session
from dictate.speech.audio import SAMPLE_RATE, Samples, UtteranceAudio
from dictate.speech.audio_file import AudioFile
from dictate.speech.microphone import BLOCK_S
from dictate.speech.recogniser import Hypothesis, Recogniser
from dictate.speech.segmentation import SegmentEvent, SpeechPaused
from dictate.speech.sphinx import SphinxRecogniser
from tests.fixture_replay import FIXTURES, MANIFEST

AFTER_LAST_SOUND_S = 0.03
"""Each clip ends so long after its last sound (see audio_fixtures.sound)."""

LONGEST_DELAY_S = 0.9

PAUSE_S = 0.4
"""Longer than the pause in which an utterance is recognised, shorter than its end in quiet."""


class Paced:
    """A source of blocks of sound, and the clock that runs with it and with the work done on it
    (s), which `spent` tells."""

    name = "paced"

    def __init__(
        self, blocks: Iterable[Samples], spent: Callable[[], float] = time.process_time
    ) -> None:
        self._blocks = blocks
        self._spent = spent
        self._time = 0.0
        self._given_at = spent()
        self.length_s = 0.0
        self.work_s = 0.0
        self.furthest_behind_s = 0.0

    def now(self) -> float:
        """Return the time of the clock."""
        return self._time + self._spent() - self._given_at

    def blocks(self) -> Iterator[Samples]:
        """Yield each block when it has been recorded, or when the work on those before is done."""
        for block in self._blocks:
            self.length_s += len(block) / SAMPLE_RATE
            self.furthest_behind_s = max(self.furthest_behind_s, self._time - self.length_s)
            self._time = max(self._time, self.length_s)
            self._given_at = self._spent()
            yield block
            work_s = self._spent() - self._given_at
            self.work_s += work_s
            self._time += work_s
            self._given_at = self._spent()


def in_blocks(sound: Samples) -> Iterator[Samples]:
    """Yield sound in blocks as long as the microphone's."""
    length = round(BLOCK_S * SAMPLE_RATE)
    for start in range(0, len(sound), length):
        yield sound[start : start + length]


@dataclass
class Shares:
    """An engine that tells the processor time (s) of what it was asked, and the audio (s)."""

    engine: Recogniser
    name: str = "measured"
    fed_cpu_s: float = 0.0
    finished_cpu_s: float = 0.0
    finished_audio_s: float = 0.0
    finished: int = 0

    def attend(self, context: str) -> None:
        self.engine.attend(context)

    def start(self) -> None:
        self._timed("fed_cpu_s", self.engine.start)

    def feed(self, samples: Samples) -> str:
        return str(self._timed("fed_cpu_s", lambda: self.engine.feed(samples)))

    def finish(self, samples: Samples) -> Hypothesis:
        self.finished += 1
        self.finished_audio_s += len(samples) / SAMPLE_RATE
        made: Hypothesis = self._timed("finished_cpu_s", lambda: self.engine.finish(samples))
        return made

    def _timed(self, what: str, do: Callable[[], Any]) -> Any:
        began = time.process_time()
        made = do()
        setattr(self, what, getattr(self, what) + time.process_time() - began)
        return made


class ListenerAfter(Listener):
    """Recognises no utterance before it is over."""

    def _take(
        self, event: SegmentEvent, recogniser: Recogniser, over_at_s: float | None = None
    ) -> None:
        if not isinstance(event, SpeechPaused):
            super()._take(event, recogniser, over_at_s)


@dataclass
class Played:
    """What came of a recording: when (s) each utterance was charted, and its hypothesis."""

    source: Paced
    engine: Shares
    charted: list[tuple[float, Understood]] = field(default_factory=list)
    missed: int = 0


def delays_s(charted: list[tuple[float, UtteranceAudio]], ends_s: Iterable[float]) -> list[float]:
    """Return the delay of each utterance that was spoken and ends at such a time, from its last
    sound to when the utterance was charted in which that lies; those that nobody heard are left
    out."""
    delays = []
    for end_s in ends_s:
        last_sound_s = end_s - AFTER_LAST_SOUND_S
        holding = [at for at, audio in charted if audio.start_s < last_sound_s < audio.end_s + 0.2]
        if holding:
            delays.append(holding[-1] - last_sound_s)
    return delays


def play(
    sound: Samples, session: Session, engine: Recogniser, listener: type[Listener] = Listener
) -> Played:
    """Play sound to a listener that hands what it understands to the session."""
    played = Played(Paced(in_blocks(sound)), Shares(engine))

    def tell(event: ListeningEvent) -> None:
        if isinstance(event, Understood):
            session.hear(event.hypothesis, event.audio, event.listened_for)
            played.charted.append((played.source.now(), event))
        elif isinstance(event, Missed):
            played.missed += 1

    listener(played.source, lambda: played.engine, tell, lambda: session.listening_for).run()
    return played


def in_pink_noise(sound: Samples, ratio_db: float) -> Samples:
    """Return speech in pink noise so many dB under it."""
    noise = pink_noise(len(sound) / SAMPLE_RATE + 1, generator("pink noise"))[: len(sound)]
    noisy = sound / 32768 + at_level(noise, SPEECH_DBFS - ratio_db)
    return np.clip(np.round(noisy * 32768), -32768, 32767).astype(np.int16)


def breathless(sound: Samples, spoken: list[dict[str, Any]]) -> tuple[Samples, dict[str, Any]]:
    """Return the same utterances by threes with pauses of PAUSE_S within, as somebody speaks who
    thinks of the next words, and the manifest's row of it."""
    parts, rows, at = [], [], 0
    room = sound[: round(0.5 * SAMPLE_RATE)]
    for place, row in enumerate(spoken):
        piece = sound[round(row["start_s"] * SAMPLE_RATE) : round(row["end_s"] * SAMPLE_RATE)]
        ends = place % 3 == 2 or row is spoken[-1]
        pause = np.resize(room, round((1.0 if ends else PAUSE_S) * SAMPLE_RATE))
        parts += [piece, pause]
        if ends:
            rows.append({"end_s": (at + len(piece)) / SAMPLE_RATE})
        at += len(piece) + len(pause)
    return np.concatenate([np.resize(room, SAMPLE_RATE), *parts]), {
        "utterances": [{"end_s": row["end_s"] + 1.0} for row in rows]
    }


def recordings() -> Iterator[tuple[str, dict[str, Any], Callable[[], Session]]]:
    """Yield the name, row of the manifest and blank session of each recording to play."""
    whole_mouth = MANIFEST["dictations"][0]
    case = Case(id="delay", species=whole_mouth["species"], opened=OPENED)
    yield "whole mouth, dog", whole_mouth, lambda: Session(case, spoken_languages())
    whole_visit = next(row for row in MANIFEST["visits"] if row["id"] == "whole_visit_dog")
    yield "whole visit, dog", whole_visit, lambda: blank_session(visit("whole_visit_dog"))


def report(played: Played, row: dict[str, Any], how: str) -> None:
    """Print one line of figures for a recording."""
    spoken, source, engine = row["utterances"], played.source, played.engine
    heard = [(at, each.audio) for at, each in played.charted]
    delays = delays_s(heard, (row["end_s"] for row in spoken))
    in_time = sum(delay <= LONGEST_DELAY_S for delay in delays)
    thrown = engine.finished - len(played.charted)
    print(
        f"    {how:<8}{len(delays):>4} of {len(spoken):<4}"
        f"{statistics.median(delays):>7.2f}{np.percentile(delays, 95):>7.2f}{max(delays):>7.2f}"
        f"{100 * in_time / len(delays):>7.1f}%"
        f"{engine.finished:>6}{thrown:>6}"
        f"{source.work_s / source.length_s:>8.3f}"
        f"{engine.finished_cpu_s / source.length_s:>8.3f}"
        f"{engine.fed_cpu_s / source.length_s:>8.3f}"
        f"{source.furthest_behind_s:>7.2f}"
    )


def main() -> None:
    engine = SphinxRecogniser(spoken_languages())
    print("delay (s) from the last sound to the charted utterance; work in s per s of sound")
    print(
        f"    {'':<8}{'utterances':>12}{'median':>7}{'95 %':>7}{'most':>7}{'<= 0.9 s':>8}"
        f"{'made':>6}{'waste':>6}{'work':>8}{'finish':>8}{'feed':>8}{'behind':>7}"
    )
    for name, row, session in recordings():
        quiet = np.concatenate(list(AudioFile(FIXTURES / row["file"]).blocks()))
        for noise, sound in (("quiet", quiet), ("pink 15 dB", in_pink_noise(quiet, 15.0))):
            print(f"{name}, {noise}")
            after = play(sound, session(), engine, ListenerAfter)
            report(after, row, "after")
            ahead = play(sound, session(), engine)
            report(ahead, row, "ahead")
            same = [each.hypothesis for _, each in after.charted] == [
                each.hypothesis for _, each in ahead.charted
            ]
            print(f"    the same hypotheses: {'yes' if same else 'NO'}")
            if noise == "quiet":
                sound, rows = breathless(quiet, row["utterances"])
                print(f"{name}, with pauses of {PAUSE_S} s within utterances")
                report(play(sound, session(), engine, ListenerAfter), rows, "after")
                report(play(sound, session(), engine), rows, "ahead")


if __name__ == "__main__":
    main()
