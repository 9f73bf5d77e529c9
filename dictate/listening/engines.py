"""Choose a speech engine by what is installed here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from dictate.errors import DictateError
from dictate.grammar.spoken import WAITING, SpokenLanguages, spoken_languages
from dictate.speech.audio import Samples
from dictate.speech.model import installed_english_model, models_folder
from dictate.speech.recogniser import NOTE, Hypothesis, Recogniser
from dictate.speech.sphinx import SphinxRecogniser
from dictate.speech.vosk_engine import VoskRecogniser

EngineChoice = Literal["auto", "both", "vosk", "sphinx"]

NEVER_SURE = "Vosk alone is never sure."

_MOST_ALTERNATIVES = 3


def recogniser_maker(
    choice: EngineChoice, languages: SpokenLanguages, mllr: Path | None = None
) -> Callable[[], Recogniser]:
    """Return what makes the engine chosen; "auto" is "both" where an English Vosk model is
    installed, else the embedded PocketSphinx. `mllr` is a transform by which the embedded engine
    is fitted to a voice (see enrolment/).

    Raises DictateError where Vosk is chosen and has no English model.
    """
    check_engine(choice)
    model = installed_english_model()
    if choice == "sphinx" or model is None:
        return lambda: SphinxRecogniser(languages, mllr)
    if choice == "vosk":
        return lambda: _Alone(model, languages)
    return lambda: _Together(model, languages, SphinxRecogniser(languages, mllr))


def check_engine(choice: EngineChoice) -> None:
    """Raise DictateError where Vosk is chosen and has no English model."""
    if choice in ("both", "vosk") and installed_english_model() is None:
        raise DictateError(
            "Vosk has no English model here: run “dictate model get vosk-model-small-en-us-0.15”, "
            f"or unpack one into {models_folder()}."
        )


@dataclass(frozen=True)
class EngineMaker:
    """What makes the engine chosen, for the languages of a visit, in whatever process it is sent
    to. See `recogniser_maker`, also for what is raised."""

    choice: EngineChoice
    mllr: Path | None = None

    def __post_init__(self) -> None:
        recogniser_maker(self.choice, spoken_languages(), self.mllr)

    def __call__(self) -> Recogniser:
        """Return the engine."""
        return recogniser_maker(self.choice, spoken_languages(), self.mllr)()


def _words_by_context(languages: SpokenLanguages) -> dict[str, tuple[str, ...]]:
    waiting = () if languages.waiting is None else (WAITING,)
    return {each: languages[each].words for each in (*languages.contexts, *waiting)}


class _Alone(VoskRecogniser):
    """Vosk without a second engine: what it hears is asked about, with its own alternatives.

    Its confidence only weighs the sentences of the grammar that it kept against each other. Of five
    Korean digits that were left out of the grammar, three were heard as another with a confidence
    of 1.0, two of them without an alternative: neither tells that a word is right. What starts
    listening again charts nothing, and is taken on that confidence.
    """

    def __init__(self, model_folder: Path, languages: SpokenLanguages) -> None:
        self._languages = languages
        super().__init__(
            model_folder,
            languages.words,
            by_context=_words_by_context(languages),
            most_alternatives=_MOST_ALTERNATIVES,
        )

    def finish(self, samples: Samples) -> Hypothesis:
        """Judge an utterance, shape (n,): never "sure", but while waiting."""
        heard = super().finish(samples)
        if self.context in (NOTE, WAITING):
            return heard
        allows = self._languages[self.context].allows if self.context else lambda words: True
        heard = replace(
            heard, alternatives=tuple(each for each in heard.alternatives if allows(each.split()))
        )
        if heard.trust != "sure":
            return heard
        return replace(heard, trust="doubtful", reason=NEVER_SURE)


class _Together(VoskRecogniser):
    """Vosk, with the embedded engine attending to the same part of the visit."""

    def __init__(
        self, model_folder: Path, languages: SpokenLanguages, embedded: SphinxRecogniser
    ) -> None:
        self._embedded = embedded
        super().__init__(
            model_folder,
            languages.words,
            second_opinion=agreement_with(embedded),
            by_context=_words_by_context(languages),
        )

    def attend(self, context: str) -> None:
        """Listen with both for what can be said in this part of the visit."""
        super().attend(context)
        self._embedded.attend(context)


def agreement_with(embedded: SphinxRecogniser) -> Callable[[Samples, Hypothesis], Hypothesis]:
    """Return a second opinion that trusts words only where the embedded engine hears them too, and
    one of the two is sure; where they differ, the other sentence is an alternative."""

    def opinion(samples: Samples, first: Hypothesis) -> Hypothesis:
        second = embedded.finish(samples)
        if embedded.context == NOTE:
            return second
        both = replace(first, engine="both")
        if first.trust == "foreign" or second.trust == "foreign":
            reason = first.reason if first.trust == "foreign" else second.reason
            return replace(both, trust="foreign", reason=reason, score=0.0)
        if first.text != second.text:
            reason = f"One engine heard “{first.text}”, the other “{second.text}”."
            return replace(both, trust="doubtful", reason=reason, alternatives=(second.text,))
        if "sure" in (first.trust, second.trust):
            return replace(both, trust="sure", reason=None)
        reason = "Both engines heard it unclearly."
        return replace(both, reason=reason, alternatives=second.alternatives)

    return opinion
