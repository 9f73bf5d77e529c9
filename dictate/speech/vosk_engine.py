"""The Vosk speech engine: listens for the grammar's phrases with a model installed apart."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import islice, product
from pathlib import Path
from typing import Any, TypeAlias

from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.recogniser import NOTE, HeardWord, Hypothesis

UNKNOWN = "[unk]"
"""The word by which an English Vosk model stands for speech outside the grammar."""

FOREIGN_SHARE = 0.2
"""Above this share of the spoken time in UNKNOWN, an utterance is not charting speech."""

DOUBT_BELOW = 0.85
"""A word with less confidence (0 to 1) than this must be confirmed."""

SecondOpinion: TypeAlias = Callable[[Samples, Hypothesis], Hypothesis]
"""Judges an utterance again: its whole audio, shape (n,) at 16 kHz, and what Vosk made of it."""

# Without these two a grammar cannot be set: the decoder crashes, or hears any word at all.
_GRAPH_PARTS = ("HCLr.fst", "Gr.fst")


class VoskRecogniser:
    """A `Recogniser` that hears only the phrases it was given.

    `phrases` are words or runs of words, in the model's own spelling (lower case in English).
    A phrase with a word the model does not know is left out, and the word is reported in
    `unknown_words`. `HeardWord.support` is Vosk's confidence, 0 to 1. `UNKNOWN` stays among
    the words of a hypothesis, to show where it was, but not in its text.

    `by_context` narrows the phrases by the part of the visit (see `attend`). So many as
    `most_alternatives` other texts that Vosk kept, the likeliest first, go with a hypothesis; any
    at all costs a second decoding.

    `trust` is told by `judge`. Inside a grammar Vosk's confidence is often 1.0 for a wrong
    word, so it cannot be the only safeguard: `second_opinion`, where given, has the last word
    on every hypothesis.

    Raises DictateError where Vosk cannot be loaded, where the model is broken or of the kind
    that cannot be held to a grammar, and where it knows none of the phrases.
    """

    name = "vosk"

    def __init__(
        self,
        model_folder: Path,
        phrases: Sequence[str],
        second_opinion: SecondOpinion | None = None,
        by_context: Mapping[str, Sequence[str]] | None = None,
        most_alternatives: int = 0,
    ) -> None:
        self._vosk = _load_vosk()
        self._model = _load_model(self._vosk, model_folder)
        known, self.unknown_words = _split_by_vocabulary(self._model, phrases)
        if not known:
            raise DictateError(f"The model in {model_folder} knows none of the words to hear.")
        unknown = [UNKNOWN] if _knows(self._model, UNKNOWN) else []
        self._all = json.dumps([*known, *unknown], ensure_ascii=False)
        self._by_context = {
            context: json.dumps([*(w for w in words if w in known), *unknown], ensure_ascii=False)
            for context, words in (by_context or {}).items()
        }
        self.context = ""
        self._most_alternatives = most_alternatives
        self._second_opinion = second_opinion
        self._ended: list[dict[str, Any]] = []
        self._try_out(model_folder)

    def attend(self, context: str) -> None:
        """Listen for the phrases of this part of the visit from the next utterance on; for all
        where `by_context` does not name it; for any words of the model's in a note."""
        self.context = context

    def start(self) -> None:
        """Begin an utterance.

        A new Vosk recogniser is made each time, which takes 0.1 to 3 ms: one that is reset
        counts its word times on from the utterance before.
        """
        self._recogniser = self._made()
        self._recogniser.SetWords(True)
        self._ended = []

    def feed(self, samples: Samples) -> str:
        """Take more of the utterance, shape (n,) at 16 kHz; return the words so far."""
        # At a pause Vosk closes a piece; unless it is fetched there and then it is lost.
        if self._recogniser.AcceptWaveform(samples.tobytes()):
            self._ended.append(json.loads(self._recogniser.Result()))
            partial = ""
        else:
            partial = json.loads(self._recogniser.PartialResult()).get("partial", "")
        spoken = " ".join([*(piece["text"] for piece in self._ended), partial])
        return _without_unknown(spoken)

    def finish(self, samples: Samples) -> Hypothesis:
        """End the utterance, whose whole audio is `samples`, and judge it.

        The same audio can give slightly other confidences each time, since Vosk adds noise of
        its own (dither) before it listens.
        """
        pieces = [*self._ended, json.loads(self._recogniser.FinalResult())]
        hypothesis = judge([word for piece in pieces for word in _heard_words(piece)])
        if self._most_alternatives:
            others = self._other_texts(samples, hypothesis.text)
            hypothesis = replace(hypothesis, alternatives=others)
        if self._second_opinion is None:
            return hypothesis
        return self._second_opinion(samples, hypothesis)

    def _made(self) -> Any:
        if self.context == NOTE:
            return self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        grammar = self._by_context.get(self.context, self._all)
        return self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, grammar)

    def _other_texts(self, samples: Samples, text: str) -> tuple[str, ...]:
        """Return what else Vosk kept of an utterance: it tells either this or its confidence in
        each word, so the utterance is decoded again."""
        again = self._made()
        again.SetMaxAlternatives(self._most_alternatives + 1)
        ended = [again.Result()] if again.AcceptWaveform(samples.tobytes()) else []
        pieces = [
            [_without_unknown(each["text"]) for each in json.loads(piece).get("alternatives", [])]
            for piece in (*ended, again.FinalResult())
        ]
        texts = (" ".join(" ".join(parts).split()) for parts in product(*filter(None, pieces)))
        others = (each for each in dict.fromkeys(texts) if each not in ("", text))
        return tuple(islice(others, self._most_alternatives))

    def _try_out(self, model_folder: Path) -> None:
        # Some broken models load and fail only at the first sound: let that be now.
        try:
            self.start()
            self._recogniser.AcceptWaveform(bytes(2 * SAMPLE_RATE))  # one second
            self._recogniser.FinalResult()
            self.start()
        except Exception as problem:  # Vosk raises nothing narrower
            raise _broken(model_folder) from problem


def judge(words: Sequence[HeardWord]) -> Hypothesis:
    """Return the hypothesis for Vosk's words, with its trust and score.

    The score is the mean confidence of the known words, weighted by their length, times the
    share of the spoken time that is not UNKNOWN. The trust is

    - "foreign" without words, or with more than `FOREIGN_SHARE` of the time in UNKNOWN: talk
      forced through the grammar comes out as plausible findings between scraps of UNKNOWN;
    - "doubtful" with any UNKNOWN at all, as a finding may hang on what was not understood, or
      with any word below `DOUBT_BELOW`: correct words mostly have 1.0, so less is a warning;
    - "sure" otherwise, which is Vosk's view alone (see `VoskRecogniser`).
    """
    known = [word for word in words if word.word != UNKNOWN]
    spoken_s = sum(_length_s(word) for word in words)
    known_s = sum(_length_s(word) for word in known)
    unknown_share = 1.0 - known_s / spoken_s if spoken_s else 0.0
    trust, reason = _trust(words, known, unknown_share)
    supported_s = sum(_length_s(word) * word.support for word in known)
    return Hypothesis(
        text=" ".join(word.word for word in known),
        words=tuple(words),
        score=min(1.0, supported_s / spoken_s) if spoken_s else 0.0,
        trust=trust,
        reason=reason,
        engine=VoskRecogniser.name,
    )


def _trust(
    words: Sequence[HeardWord], known: Sequence[HeardWord], unknown_share: float
) -> tuple[str, str | None]:
    """Return the trust and, where it is not "sure", the reason."""
    if not words:
        return "foreign", "no words"
    if not known:
        return "foreign", "no charting words"
    if unknown_share > FOREIGN_SHARE:
        return "foreign", f"{unknown_share:.0%} of it is not charting words"
    if len(known) < len(words):
        return "doubtful", "part of it is not charting words"
    weakest = min(known, key=lambda word: word.support)
    if weakest.support < DOUBT_BELOW:
        return "doubtful", f"'{weakest.word}' was not clear"
    return "sure", None


def _without_unknown(text: str) -> str:
    return " ".join(word for word in text.split() if word != UNKNOWN)


def _length_s(word: HeardWord) -> float:
    return max(0.0, word.end_s - word.start_s)


def _heard_words(piece: dict[str, Any]) -> list[HeardWord]:
    """Return the words of one Vosk result; it has no "result" where there are none."""
    return [
        HeardWord(word["word"], word["start"], word["end"], word["conf"])
        for word in piece.get("result", [])
    ]


def _split_by_vocabulary(model: Any, phrases: Sequence[str]) -> tuple[list[str], tuple[str, ...]]:
    """Return the phrases made of words the model knows, and the words it does not know."""
    words = dict.fromkeys(word for phrase in phrases for word in phrase.split())
    unknown = {word: None for word in words if not _knows(model, word)}
    known = [
        phrase
        for phrase in dict.fromkeys(phrases)
        if phrase.split() and not any(word in unknown for word in phrase.split())
    ]
    return known, tuple(unknown)


def _knows(model: Any, word: str) -> bool:
    return bool(model.vosk_model_find_word(word) != -1)


def _load_vosk() -> Any:
    # Loaded only here, so that all else runs on a machine without Vosk.
    try:
        import vosk
    except (ImportError, OSError, TypeError) as problem:
        raise DictateError(
            f"The Vosk engine cannot be loaded ({problem}), so install the package vosk."
        ) from problem
    vosk.SetLogLevel(-1)
    return vosk


def _load_model(vosk: Any, model_folder: Path) -> Any:
    graph = model_folder / "graph"
    if (graph / "HCLG.fst").exists():
        raise DictateError(
            f"The model in {model_folder} cannot be held to a grammar, so use a small one."
        )
    for part in _GRAPH_PARTS:
        if not (graph / part).is_file() or not (graph / part).stat().st_size:
            raise _broken(model_folder)
    try:
        return vosk.Model(str(model_folder))
    except Exception as problem:  # Vosk raises nothing narrower
        raise _broken(model_folder) from problem


def _broken(model_folder: Path) -> DictateError:
    return DictateError(
        f"The folder {model_folder} holds no whole Vosk model, so remove it and fetch it again."
    )
