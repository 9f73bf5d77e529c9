"""What works here: audio devices, engines, models, words, the data folder and the cases in it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from dictate.cases.stored import case_store
from dictate.errors import DictateError
from dictate.folders import data_folder, made_data_folder, open_to_others
from dictate.grammar.pronunciation import OWN_WAYS, OWN_WORDS, all_ways
from dictate.grammar.sound_alike import sound_alikes
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.microphone import input_devices
from dictate.speech.model import installed_english_model, models_folder
from dictate.speech.sphinx import SphinxRecogniser
from dictate.speech.vosk_engine import VoskRecogniser

ENGLISH_MODEL = "vosk-model-small-en-us-0.15"
"""The English model that is named to those who have none: small, and free to use."""

MOST_PAIRS = 20
"""How many pairs of words that sound alike are printed."""


@dataclass(frozen=True)
class Checked:
    """One line of the check: what was looked at, whether it works, and what to do or know.
    Where it is not `needed`, charting works without it."""

    what: str
    works: bool
    sentence: str
    needed: bool = True


def what_works(language: SpokenLanguages) -> Iterator[Checked]:
    """Yield one line for each thing that charting needs or can use."""
    yield _tried("data folder", _check_data_folder)
    yield _tried("cases", _check_cases)
    yield _tried("grammar", lambda: f"{len(language.words)} words can be said.")
    yield _tried("own words", lambda: _check_own_words(language))
    yield _tried("engine sphinx", lambda: _check_sphinx(language))
    yield _tried("engine vosk", lambda: _check_vosk(language), needed=False)
    yield _tried("words that sound alike", lambda: _check_sound_alikes(language), needed=False)
    yield _tried("microphone", _check_microphone, needed=False)


def _tried(what: str, attempt: Callable[[], str], needed: bool = True) -> Checked:
    try:
        return Checked(what, True, attempt(), needed)
    except DictateError as error:
        return Checked(what, False, str(error), needed)


def _check_data_folder() -> str:
    folder = made_data_folder()
    if not os.access(folder, os.W_OK):
        raise DictateError(f"{folder} cannot be written to: set DICTATE_DATA to one that can.")
    if open_to_others(folder):
        raise DictateError(
            f"{folder} can be entered by others: close it (chmod 700), or set DICTATE_DATA to a "
            "folder of dictate's own."
        )
    return f"{data_folder()} can be written to, and entered by nobody else."


def _check_cases() -> str:
    number = case_store(may_be_away=True).check()
    return f"{number} kept here; each is as it was charted."


def _check_own_words(language: SpokenLanguages) -> str:
    folder = data_folder()
    built_in = all_ways(language.words, language[language.contexts[0]].pronunciations)
    ways = all_ways(language.words, language.pronunciations)
    added = sum(len(ways[word]) - len(built_in.get(word, ())) for word in ways)
    if not added:
        return f"None; {OWN_WAYS} and {OWN_WORDS} in {folder} may add some (docs/words.md)."
    return f"{OWN_WAYS} and {OWN_WORDS} in {folder} add {added} ways to say words."


def _check_sound_alikes(language: SpokenLanguages) -> str:
    """Return the nearest pairs, one a line: how far apart, whether the sound is held against both
    where one was heard, and where one may stand for the other."""
    pairs = [
        (pair, pair.sentences)
        for pair in sound_alikes(language, all_ways(language.words, language.pronunciations))
        if pair.sentences is not None
    ]
    lines = []
    for pair, (sentence, _) in pairs[:MOST_PAIRS]:
        first, second = pair.words
        listed = "listed" if language.are_confusable(first, second) else "not listed"
        lines.append(f"\n    {first} / {second}: {pair.distance:.2f}, {listed}; “{sentence}”")
    shown = f"; the nearest {MOST_PAIRS}" if len(pairs) > MOST_PAIRS else ""
    return (
        f"{len(pairs)} pairs may stand for one another{shown}, and whether confusable_words.txt "
        f"lists them:{''.join(lines)}"
    )


def _check_sphinx(language: SpokenLanguages) -> str:
    SphinxRecogniser(language)
    return "The embedded English model is loaded and knows every word of the grammar."


def _check_vosk(language: SpokenLanguages) -> str:
    model: Path | None = installed_english_model()
    if model is None:
        raise DictateError(
            f"No English model in {models_folder()}: “dictate model get {ENGLISH_MODEL}” fetches "
            "one, if you like."
        )
    unknown = VoskRecogniser(model, language.words).unknown_words
    words = f"it does not know: {', '.join(unknown)}." if unknown else "it knows every word."
    return f"Model {model.name}; {words}"


def _check_microphone() -> str:
    return "Input devices: " + ", ".join(input_devices()) + "."
