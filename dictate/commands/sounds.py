"""`dictate sounds`: every sound that the tool makes, with what it means."""

from __future__ import annotations

import threading

from dictate.chart.events import Heard
from dictate.errors import DictateError
from dictate.settings import SETTINGS_FILE, SoundSettings, read_settings
from dictate.sounds.player import Output, SpeakerOutput
from dictate.sounds.readback import outcome_in_words
from dictate.sounds.spoken import speech
from dictate.sounds.tones import TONES, tone

_POCKET = {"tooth": 208, "kind": "pocket", "value": 5, "unit": "mm", "site": None}
_EXAMPLE = Heard(
    text="two oh eight pocket five",
    outcome="charted",
    statements=({"statement": "finding", "finding": _POCKET},),
)
_OTHER = "two oh eight pocket nine"


def sounds() -> None:
    """Play every sound, say what it means, and read an example back where that is set."""
    play_all(read_settings().sounds, SpeakerOutput())


def play_all(settings: SoundSettings, output: Output) -> None:
    """Print and play every sound on an output. Raises DictateError where there is none."""
    print(f"Tones are {'on' if settings.tones else 'off'} in {SETTINGS_FILE}.")
    problem: DictateError | None = None
    uncut = threading.Event()
    for name, each in TONES.items():
        print(f"{each.rhythm:<22}{each.meaning}")
        if problem is None:
            try:
                output.play(tone(name, settings.volume), lambda: True, uncut)
            except DictateError as error:
                problem = error
    print(f"Read back: {settings.read_back}.")
    if settings.read_back != "off" and problem is None:
        doubt = _EXAMPLE.model_copy(update={"outcome": "query"})
        heard = _EXAMPLE if settings.read_back == "all" else doubt
        words = outcome_in_words(heard, () if heard is _EXAMPLE else (_OTHER,))
        print(f"“{words}”")
        output.play(speech(words, settings), lambda: True, uncut)
    if problem is not None:
        raise problem
