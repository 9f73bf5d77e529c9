"""PocketSphinx: the engine whose English model comes inside its package.

Every utterance is decoded with the grammar, and with a loop of any phones whatever (the package's
phone language model). A grammar turns any sound into a sentence; how much worse that sentence
explains the sound than free phones do tells charting from other speech. Then it is decoded with
what may have been said instead (the same sentence with another word in one place) and, with the
grammar again, as if another voice had said it: that tells which words are in doubt, and what else
they may have been.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from dictate.grammar.spoken import CHARTING, SpokenLanguages
from dictate.grammar.substitution import Substitutes, changed_once, substitutes
from dictate.speech.audio import Samples
from dictate.speech.doubt import FARTHEST_RIVAL, WORTH_ANOTHER_LOOK, Evidence, Rival, judge
from dictate.speech.front_end import (
    Bands,
    cepstra,
    features,
    is_clear,
    is_loud,
    is_narrow,
    is_noisy,
    is_steady,
    mel_bands,
    narrowed,
    stretched,
    without_noise,
)
from dictate.speech.level import clipped_share
from dictate.speech.recogniser import NOTE, HeardWord, Hypothesis
from dictate.speech.sphinx_decoder import (
    PHONES,
    SUNK,
    Ears,
    Features,
    Segment,
    decode,
    free_decoder,
    likelihood,
    narrow_band_ears,
    noisy_ears,
    plain,
)

FRAME_S = 0.01
"""Length of a PocketSphinx frame in s."""

_NEAR = "what may have been said instead"
_MOST_RIVALS = 3

_OTHER_VOICE = 1.04
"""A shorter vocal tract: a sentence that is heard as another in it was not heard surely. Of the
factors 0.96 to 1.04 this one told right from wrong best on the tuning part."""


class SphinxRecogniser:
    """The embedded engine, listening for the sentences of one context at a time.

    `mllr` is a transform by which its acoustic model is fitted to a voice (see enrolment/).
    Raises DictateError where its model is missing or a word has no pronunciation.
    """

    name = "sphinx"

    def __init__(self, languages: SpokenLanguages, mllr: Path | None = None) -> None:
        self._languages = languages
        self._has_voice = mllr is not None
        self._ears = Ears(languages, mllr)
        self._other_ears: dict[str, Ears] = {}
        self._note_decoder: Any = None
        self._listening = False
        contexts = languages.contexts
        self.context = CHARTING if CHARTING in contexts else contexts[0]
        self.attend(self.context)

    def attend(self, context: str) -> None:
        """Listen for what can be said in this part of the visit, from the next call on."""
        if self._listening and context != self.context:
            self._close()
        self.context = context
        if context != NOTE:
            self._ears.attend(context)

    def start(self) -> None:
        """Begin an utterance whose words are wanted while it is spoken."""
        self._close()
        if self.context == NOTE:
            return
        self._ears.words.activate_search(self.context)
        self._ears.words.start_utt()
        self._listening = True

    def feed(self, samples: Samples) -> str:
        """Take more of the utterance (shape (n,)); return the words so far, none of a note."""
        if self.context == NOTE:
            return ""
        if not self._listening:
            self.start()
        self._ears.words.process_raw(samples.tobytes())
        hypothesis = self._ears.words.hyp()
        return plain(hypothesis.hypstr) if hypothesis else ""

    def finish(self, samples: Samples) -> Hypothesis:
        """Decode the whole utterance (shape (n,)) with its own cepstral mean, and judge it."""
        self._close()
        if self.context == NOTE:
            return self._note(samples)
        return judge(self.evidence(samples), self.name)

    def evidence(self, samples: Samples) -> Evidence:
        """Return what the decodings of `samples`, shape (n,), say."""
        sound = mel_bands(samples)
        ears, bands = self._ears_for(sound)
        heard = cepstra(bands)
        segments = decode(ears.words, self.context, heard)
        phones = decode(ears.phones, PHONES, heard)
        words = _words(segments)
        is_sentence = self._languages[self.context].allows(words)
        evidence = _weigh(segments, phones, is_loud(bands), is_sentence)
        if is_steady(sound):
            return replace(evidence, is_steady=True)
        if not is_sentence or evidence.support < WORTH_ANOTHER_LOOK:
            return evidence
        return replace(
            evidence,
            is_clear=is_clear(sound),
            is_noisy=is_noisy(sound),
            clipped=clipped_share(samples),
            rivals=tuple(self._rivals(ears.words, words, heard)),
            second_look=self._second_look(
                ears.words, words, cepstra(stretched(bands, _OTHER_VOICE))
            ),
        )

    def _ears_for(self, sound: Bands) -> tuple[Ears, Bands]:
        """Return the ears for a sound, and its bands without noise. Those of a voice are fitted to
        the microphone and the room it was enrolled in; the others were not tried with one."""
        if self._has_voice:
            return self._ears, without_noise(sound)
        if is_noisy(sound):
            return self._made("noisy", noisy_ears), without_noise(sound)
        if is_narrow(sound):
            return self._made("narrow", narrow_band_ears), without_noise(narrowed(sound))
        return self._ears, without_noise(sound)

    def _made(self, name: str, make: Callable[[SpokenLanguages], Ears]) -> Ears:
        """Return ears that are made when they are first wanted, ready for the context."""
        if name not in self._other_ears:
            self._other_ears[name] = make(self._languages)
        self._other_ears[name].attend(self.context)
        return self._other_ears[name]

    def _second_look(
        self, decoder: Any, words: list[str], heard: Features
    ) -> tuple[str, ...] | None:
        """Return what is heard in features of another voice, None where it means the same."""
        others = _words(decode(decoder, self.context, heard))
        same = words == others or self._mean_the_same(words, others)
        return None if same else tuple(others)

    def _rivals(self, decoder: Any, words: list[str], heard: Features) -> Iterator[Rival]:
        """Yield the words that explain the sound nearly as well as one that was heard, each in a
        place of its own, the nearest first."""
        others = substitutes(self._languages[self.context], words)
        for _ in range(_MOST_RIVALS):
            best = self._likelihood(decoder, words, others, len(words), heard)
            if best is None or best[0] != words:
                return
            other = self._likelihood(decoder, words, others, 2 * len(words) + 1, heard)
            changed = [p for p, word in enumerate(words) if other and other[0][p] != word]
            if other is None or not changed:  # nothing else comes near enough to be found
                return
            (place, *_), margin = changed, best[1] - other[1]
            rival = other[0][place]
            if self._mean_the_same(words, other[0]):
                del others[place][rival]
                continue
            confusable = self._languages.are_confusable(words[place], rival)
            yield Rival(place, rival, margin, confusable)
            if margin > FARTHEST_RIVAL:
                return
            others[place].clear()

    def _likelihood(
        self, decoder: Any, words: list[str], others: Substitutes, final: int, heard: Features
    ) -> tuple[list[str], float] | None:
        """Return the best sentence that ends in a state of `changed_once`, and its log likelihood.
        Whatever the end, the same words are searched, so that the likelihoods compare."""
        arcs = changed_once(words, others)
        ends = 2 * len(words) + 2
        decoder.add_fsg(_NEAR, decoder.create_fsg(_NEAR, 0, ends, [*arcs, (final, ends, 1.0)]))
        segments = decode(decoder, _NEAR, heard)
        found = _words(segments)
        if not segments or len(found) != len(words):
            return None
        return found, likelihood(decoder)

    def _mean_the_same(self, words: list[str], other: list[str]) -> bool:
        language = self._languages[self.context]
        return language.tags(words) == language.tags(other)

    def _note(self, samples: Samples) -> Hypothesis:
        """Return what general English makes of a note: never sure, for it was made for other
        talk than a clinic's. The model is loaded when the first note is taken."""
        if self._note_decoder is None:
            self._note_decoder = free_decoder()
        segments = decode(self._note_decoder, None, features(samples))
        words = " ".join(_words(segments))
        reason = "What was made of a note is not verified."
        return Hypothesis(words, score=0.0, trust="doubtful", reason=reason, engine=self.name)

    def _close(self) -> None:
        if self._listening:
            self._ears.words.end_utt()
            self._listening = False


def _words(segments: Iterable[Segment]) -> list[str]:
    return [each.word for each in segments if not each.is_silence]


def _weigh(
    segments: list[Segment],
    phones: list[Segment],
    loud: npt.NDArray[np.bool_],
    is_sentence: bool,
) -> Evidence:
    frames = len(loud)
    grammar = _frame_scores(segments, frames)
    free = _frame_scores(phones, frames)
    spoken = _speech_frames(segments, frames)
    voiced = _speech_frames(phones, frames)
    margin = grammar - free
    words = [
        HeardWord(
            each.word,
            each.first * FRAME_S,
            (each.last + 1) * FRAME_S,
            float(margin[each.first : each.last + 1].mean()),
        )
        for each in segments
        if not each.is_silence
    ]
    heard = spoken | voiced
    return Evidence(
        words=tuple(words),
        is_sentence=is_sentence,
        support=float(margin[heard].mean()) if heard.any() else SUNK,
        covered=float(spoken[voiced & loud].mean()) if (voiced & loud).any() else 0.0,
    )


def _frame_scores(segments: Iterable[Segment], frames: int) -> npt.NDArray[np.float64]:
    scores = np.zeros(frames)
    for each in segments:
        scores[each.first : each.last + 1] = each.per_frame
    return scores


def _speech_frames(segments: Iterable[Segment], frames: int) -> npt.NDArray[np.bool_]:
    speech = np.zeros(frames, dtype=bool)
    for each in segments:
        if not each.is_silence:
            speech[each.first : each.last + 1] = True
    return speech
