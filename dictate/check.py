"""What works here: audio devices, engines, models, words, the data folder."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from dictate.errors import DictateError
from dictate.folders import data_folder, made_data_folder
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.microphone import input_devices
from dictate.speech.model import installed_english_model, models_folder
from dictate.speech.sphinx import SphinxRecogniser
from dictate.speech.vosk_engine import VoskRecogniser

ENGLISH_MODEL = "vosk-model-small-en-us-0.15"
"""The English model that is named to those who have none: small, and free to use."""


@dataclass(frozen=True)
class Checked:
    """One line of the check: what was looked at, whether it works, and what to do or know.
    Where it is not `needed`, charting works without it."""

    what: str
    works: bool
    sentence: str
    needed: bool = True


def check(language: SpokenLanguages) -> Iterator[Checked]:
    """Yield one line for each thing that charting needs or can use."""
    yield _tried("data folder", _check_data_folder)
    yield _tried("grammar", lambda: f"{len(language.words)} words can be said.")
    yield _tried("engine sphinx", lambda: _check_sphinx(language))
    yield _tried("engine vosk", lambda: _check_vosk(language), needed=False)
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
    return f"{data_folder()} can be written to."


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
