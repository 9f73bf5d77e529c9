"""Choose a speech engine by what is installed here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

from dictate.errors import DictateError
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.audio import Samples
from dictate.speech.model import installed_english_model, models_folder
from dictate.speech.recogniser import NOTE, Hypothesis, Recogniser
from dictate.speech.sphinx import SphinxRecogniser
from dictate.speech.vosk_engine import VoskRecogniser

EngineChoice = Literal["auto", "vosk", "sphinx"]


def recogniser_maker(choice: EngineChoice, languages: SpokenLanguages) -> Callable[[], Recogniser]:
    """Return what makes the engine chosen; "auto" is Vosk where an English model is installed,
    else the embedded PocketSphinx.

    Raises DictateError where Vosk is chosen and has no English model.
    """
    model = installed_english_model()
    if choice == "vosk" and model is None:
        raise DictateError(
            "Vosk has no English model here: run “dictate model get vosk-model-small-en-us-0.15”, "
            f"or unpack one into {models_folder()}."
        )
    if choice == "sphinx" or model is None:
        return lambda: SphinxRecogniser(languages)

    def vosk() -> Recogniser:
        embedded = SphinxRecogniser(languages)
        return _Together(
            model,
            languages.words,
            second_opinion=agreement_with(embedded),
            by_context={each: languages[each].words for each in languages.contexts},
            embedded=embedded,
        )

    return vosk


class _Together(VoskRecogniser):
    """Vosk, with the embedded engine attending to the same part of the visit."""

    def __init__(self, *arguments: Any, embedded: SphinxRecogniser, **named: Any) -> None:
        self._embedded = embedded
        super().__init__(*arguments, **named)

    def attend(self, context: str) -> None:
        """Listen with both for what can be said in this part of the visit."""
        super().attend(context)
        self._embedded.attend(context)


def agreement_with(embedded: SphinxRecogniser) -> Callable[[Samples, Hypothesis], Hypothesis]:
    """Return a second opinion that trusts words only where the embedded engine hears them too:
    Vosk's own confidence inside a grammar is often 1.0 when it is wrong."""

    def opinion(samples: Samples, first: Hypothesis) -> Hypothesis:
        second = embedded.finish(samples)
        if embedded.context == NOTE:
            return second
        if first.trust == "foreign" or second.trust == "foreign":
            reason = first.reason if first.trust == "foreign" else second.reason
            return replace(first, trust="foreign", reason=reason, score=0.0)
        if first.text == second.text and "sure" in (first.trust, second.trust):
            return replace(first, trust="sure", reason=None)
        reason = f"The second engine heard “{second.text}”."
        return replace(first, trust="doubtful", reason=reason, alternatives=(second.text,))

    return opinion
