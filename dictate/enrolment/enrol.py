"""The whole job: fit a voice to what was read, and keep it only where it helps.

Every phrase is held back once: three voices are made, each from two thirds of the phrases, and
tried on the third that it has not heard. The voice that is returned is made from all of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from dictate.enrolment.acoustic_model import acoustic_model
from dictate.enrolment.adapt import adapt, align_all, log_likelihood
from dictate.enrolment.voice import Gain
from dictate.errors import DictateError
from dictate.grammar.spoken import SpokenLanguages
from dictate.phrases.reading import read_utterance
from dictate.speech.audio import Samples
from dictate.speech.recogniser import Recogniser
from dictate.speech.transform import UNCHANGED, Transform, mllr_text

FEWEST_READINGS = 12
"""A voice is not made from fewer phrases."""

LEAST_MORE = 3
"""A voice must make so many more phrases understood: one more is chance. A speaker who gained one
in twenty was understood worse on 84 other numbers (docs/enrolment.md)."""

_PARTS = 3

MakeRecogniser = Callable[[Path | None], Recogniser]
"""Makes the embedded engine: with its own model, or fitted by the transform in a file."""


@dataclass(frozen=True, eq=False)
class Reading:
    """A text that was read, the part of the visit in which it can be said, and its sound, shape
    (n,)."""

    context: str
    text: str
    samples: Samples


@dataclass(frozen=True, eq=False)
class Enrolment:
    """A voice that helps: its transform, from how many phrases, and what it was worth."""

    transform: Transform
    phrases: int
    gain: Gain


class EnrolmentError(DictateError):
    """The voice is not to be kept; `gain` says what it was worth."""

    def __init__(self, sentence: str, gain: Gain | None = None) -> None:
        super().__init__(sentence)
        self.gain = gain


def enrol(
    languages: SpokenLanguages, readings: Sequence[Reading], make_recogniser: MakeRecogniser
) -> Enrolment:
    """Return the voice of who read, one person.

    Raises EnrolmentError where too few phrases fit their words, and where on phrases held back
    the sound is not more likely with it, fewer than LEAST_MORE more are understood, or more are
    surely misunderstood.
    """
    texts = [(each.text, each.samples) for each in readings]
    aligned = align_all(languages, texts)
    fitting = [each for each, found in zip(readings, aligned, strict=True) if found is not None]
    if len(fitting) < FEWEST_READINGS:
        raise EnrolmentError(
            f"Only {len(fitting)} phrases fit their words, and {FEWEST_READINGS} are needed: "
            "read them again, word for word, in a quiet room."
        )
    gain = measured_gain(languages, fitting, make_recogniser)
    if not helps(gain):
        raise EnrolmentError(
            f"The voice is not kept, for it does not help enough: of {gain.checked} phrases held "
            f"back {gain.understood_before} were understood without it and {gain.understood_after} "
            f"with it, {gain.wrong_before} and {gain.wrong_after} wrongly; chart without a voice, "
            "or enrol again in a quiet room.",
            gain,
        )
    transform = _adapted(languages, fitting)
    return Enrolment(transform, len(fitting), gain)


def helps(gain: Gain) -> bool:
    """Return whether a voice is worth keeping."""
    return (
        gain.likelihood > 0
        and gain.understood_after >= gain.understood_before + LEAST_MORE
        and gain.wrong_after <= gain.wrong_before
    )


def measured_gain(
    languages: SpokenLanguages, readings: Sequence[Reading], make_recogniser: MakeRecogniser
) -> Gain:
    """Return what voices made from two thirds of the readings are worth on the other third."""
    before = _outcomes(languages, readings, make_recogniser(None))
    after: Counter[str] = Counter()
    rises: list[float] = []
    for part in range(_PARTS):
        held_back = readings[part::_PARTS]
        others = [each for place, each in enumerate(readings) if place % _PARTS != part]
        transform = _adapted(languages, others)
        rises += _rises(languages, transform, held_back)
        with _file_of(transform) as mllr:
            after += _outcomes(languages, held_back, make_recogniser(mllr))
    return Gain(
        checked=len(readings),
        likelihood=round(float(np.mean(rises)), 3),
        understood_before=before["understood"],
        understood_after=after["understood"],
        wrong_before=before["wrong"],
        wrong_after=after["wrong"],
    )


def _adapted(languages: SpokenLanguages, readings: Sequence[Reading]) -> Transform:
    transform = adapt(languages, [(each.text, each.samples) for each in readings])
    if transform is None:
        raise EnrolmentError("No phrase fits its words: read them again, word for word.")
    return transform


def _rises(
    languages: SpokenLanguages, transform: Transform, readings: Sequence[Reading]
) -> list[float]:
    """Return by how much each reading becomes more likely, per frame of speech."""
    model = acoustic_model()
    aligned = align_all(languages, [(each.text, each.samples) for each in readings])
    return [
        log_likelihood(model, transform, each) - log_likelihood(model, UNCHANGED, each)
        for each in aligned
        if each is not None
    ]


def _outcomes(
    languages: SpokenLanguages, readings: Sequence[Reading], recogniser: Recogniser
) -> Counter[str]:
    """Count readings that are understood rightly and surely, and that are surely wrong."""
    counts: Counter[str] = Counter()
    for each in readings:
        recogniser.attend(each.context)
        hypothesis = recogniser.finish(each.samples)
        language = languages[each.context]
        meant = read_utterance(language, each.text).statements
        if hypothesis.trust == "sure":
            right = read_utterance(language, hypothesis.text).statements == meant
            counts["understood" if right else "wrong"] += 1
    return counts


@contextmanager
def _file_of(transform: Transform) -> Iterator[Path]:
    """Write a transform where an engine can read it while it is being made."""
    with TemporaryDirectory(prefix="dictate-") as folder:
        path = Path(folder) / "mllr"
        path.write_text(mllr_text(transform), encoding="ascii")
        yield path
