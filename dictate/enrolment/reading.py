"""Phrases as they are read: from a microphone one after another, or from a folder of recordings."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictate.enrolment.enrol import Reading
from dictate.enrolment.phrases import Phrase
from dictate.errors import DictateError
from dictate.grammar.spoken import SpokenLanguages
from dictate.phrases.reading import read_utterance
from dictate.speech.audio import AudioSource, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.level import is_clipping, level_dbfs
from dictate.speech.recogniser import Recogniser
from dictate.speech.segmentation import Segmenter, SpeechEnded, utterances, whole_file

TRIES = 2
"""How often a phrase is asked for; the last try counts, understood or not: whom the engine does not
understand has most to gain."""

_SUFFIXES = frozenset({".wav", ".flac", ".ogg"})


@dataclass(frozen=True)
class Asked:
    """A phrase is to be read now, for the first time or again."""

    phrase: Phrase
    again: bool


@dataclass(frozen=True)
class Level:
    """How loud the last block was, in dBFS, and whether it was clipped."""

    dbfs: float
    clipping: bool


@dataclass(frozen=True)
class Taken:
    """A phrase was read; `heard` is what the engine made of it."""

    phrase: Phrase
    understood: bool
    heard: str


def read_live(
    phrases: Sequence[Phrase],
    source: AudioSource,
    recogniser: Recogniser,
    languages: SpokenLanguages,
    tell: Callable[[Asked | Level | Taken], None],
) -> list[Reading]:
    """Return the phrases as they were read into a source, telling how it goes.

    The first utterance after a phrase was asked for is its reading; one that is not understood is
    asked for again, once. Raises DictateError where the source ends before all are read, and
    whatever `source.blocks()` raises.
    """
    readings: list[Reading] = []
    segmenter = Segmenter()
    tries = 1
    if phrases:
        tell(Asked(phrases[0], again=False))
    for block in source.blocks():
        tell(Level(level_dbfs(block), is_clipping(block)))
        for event in segmenter.push(block):
            if not isinstance(event, SpeechEnded):
                continue
            phrase = phrases[len(readings)]
            heard, understood = _heard(phrase, event.utterance.samples, recogniser, languages)
            tell(Taken(phrase, understood, heard))
            again = not understood and tries < TRIES
            tries = tries + 1 if again else 1
            if not again:
                readings.append(Reading(phrase.context, phrase.text, event.utterance.samples))
            if len(readings) == len(phrases):
                return readings
            tell(Asked(phrases[len(readings)], again))
    raise DictateError(
        f"{source.name} ended after {len(readings)} of {len(phrases)} phrases: start again."
    )


def _heard(
    phrase: Phrase, samples: Samples, recogniser: Recogniser, languages: SpokenLanguages
) -> tuple[str, bool]:
    recogniser.attend(phrase.context)
    hypothesis = recogniser.finish(samples)
    language = languages[phrase.context]
    meant = read_utterance(language, phrase.text).statements
    return hypothesis.text, read_utterance(language, hypothesis.text).statements == meant


def read_folder(phrases: Sequence[Phrase], folder: Path) -> list[Reading]:
    """Return the phrases whose recordings are in a folder: 1.wav or 01.flac for the first.

    Raises DictateError where it is no folder, holds none, two of one number, one that is no
    phrase's, or a file that cannot be read.
    """
    if not folder.is_dir():
        raise DictateError(f"{folder} is no folder: name the one with the recordings.")
    by_number = {phrase.number: phrase for phrase in phrases}
    found: dict[int, Path] = {}
    for path in sorted(folder.iterdir()):
        if path.suffix.lower() not in _SUFFIXES or not re.fullmatch("[0-9]{1,4}", path.stem):
            continue
        number = int(path.stem)
        if number not in by_number:
            raise DictateError(
                f"{path.name} is of no phrase: “dictate voice phrases” prints all with numbers."
            )
        if number in found:
            raise DictateError(
                f"{found[number].name} and {path.name} are of one phrase: take one away."
            )
        found[number] = path
    if not found:
        raise DictateError(
            f"{folder} has no recordings: name them 1.wav, 2.wav … by the numbers that “dictate "
            "voice phrases” prints."
        )
    return [
        Reading(by_number[number].context, by_number[number].text, _samples(path))
        for number, path in sorted(found.items())
    ]


def _samples(path: Path) -> Samples:
    """Return the one utterance in a file, cut out as while charting; all of it where it holds
    several, for a reader may pause."""
    spoken = list(utterances(AudioFile(path)))
    return spoken[0].samples if len(spoken) == 1 else whole_file(AudioFile(path)).samples
