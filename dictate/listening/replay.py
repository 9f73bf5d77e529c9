"""Play audio files through an engine into a session, as fast as they can be read."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dictate.chart.events import Heard
from dictate.session.session import Session
from dictate.speech.audio import SAMPLE_RATE, AudioSource, Samples, UtteranceAudio
from dictate.speech.audio_file import AudioFile
from dictate.speech.recogniser import Recogniser
from dictate.speech.segmentation import utterances, whole_file


@dataclass(frozen=True)
class Replay:
    """What came of a replay: the utterances in order, two for one of which a part is asked about;
    the length of the audio and the processor time of this process since `replay` was called, both
    in s."""

    heard: tuple[Heard, ...]
    audio_s: float
    cpu_s: float


def replay(
    files: Sequence[Path], make_recogniser: Callable[[], Recogniser], session: Session
) -> Replay:
    """Play `files` in order as one session; each is at least one utterance of its own. What was
    said while the session did not listen is not among what was heard.

    Raises DictateError for the first file that cannot be read; what was heard before stands.
    """
    began = time.process_time()
    sources = [_Measured(AudioFile(file)) for file in files]
    recogniser = make_recogniser()
    heard: list[Heard] = []
    for source in sources:
        for audio in _utterances(source):
            recogniser.attend(session.listening_for)
            before = len(session.heard)
            session.hear(recogniser.finish(audio.samples), audio)
            heard += [each.what for each in session.heard[before:] if isinstance(each.what, Heard)]
    audio_s = sum(source.length_s for source in sources)
    return Replay(tuple(heard), audio_s, time.process_time() - began)


class _Measured:
    """A file as a source that is named by its path and knows how much of it was played (s)."""

    def __init__(self, file: AudioFile) -> None:
        self._file = file
        self.name = str(file.path)
        self.length_s = 0.0

    def blocks(self) -> Iterator[Samples]:
        self.length_s = 0.0
        for block in self._file.blocks():
            self.length_s += len(block) / SAMPLE_RATE
            yield block


def _utterances(source: AudioSource) -> Iterator[UtteranceAudio]:
    found = False
    for audio in utterances(source):
        found = True
        yield audio
    if not found:
        yield whole_file(source)


def as_json(result: Replay, session: Session) -> dict[str, Any]:
    """Return the replay as the plain data that `dictate replay --json` prints."""
    return {
        "utterances": [
            {
                "file": heard.file,
                "start_s": heard.start_s,
                "end_s": heard.end_s,
                "text": heard.text,
                "outcome": heard.outcome,
                "score": heard.score,
                "reason": heard.reason,
                "statements": list(heard.statements),
            }
            for heard in result.heard
        ],
        "findings": [finding.model_dump() for finding in session.chart.findings],
        "observations": [each.model_dump(mode="json") for each in session.chart.observations],
        "timing": {"audio_s": round(result.audio_s, 3), "cpu_s": round(result.cpu_s, 3)},
    }
