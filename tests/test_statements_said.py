"""What each kind of phrase is taken to mean."""

import pytest

from dictate.grammar.spoken import spoken_languages
from dictate.phrases.reading import read_utterance
from dictate.phrases.statements import ChooseTeeth, ChooseTooth, Clear, Command, Found

LANGUAGES = spoken_languages()


def read(text: str, part: str = "charting") -> tuple:
    return read_utterance(LANGUAGES[part], text).statements


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("201 to 203", (ChooseTeeth(first=201, last=203),)),
        ("all upper left", (ChooseTeeth(group="upper_left"),)),
        ("rest of the mouth", (ChooseTeeth(group="rest"),)),
        ("clear 208", (Clear(208, None),)),
        ("clear 208 pocket", (Clear(208, "pocket"),)),
        ("not missing", (Clear(None, "missing"),)),
        ("208 not missing", (ChooseTooth(208), Clear(None, "missing"))),
        ("next tooth", (Command("next"),)),
        ("previous tooth", (Command("previous"),)),
        ("skip", (Command("skip"),)),
        ("go to radiographs", (Command("context", "radiographs"),)),
        (
            "change 208 pocket to 4",
            (Command("correction", "standing"), Found("pocket", 4, None, 208)),
        ),
        ("pocket 5.5 mesial", (Found("pocket", 5.5, "mesial"),)),
        ("pocket 0.5 mesial", (Found("pocket", 0.5, "mesial"),)),
        (
            "208 buccal 3 2 4",
            (
                ChooseTooth(208),
                Found("pocket", 3, "mesiobuccal", 208),
                Found("pocket", 2, "buccal", 208),
                Found("pocket", 4, "distobuccal", 208),
            ),
        ),
    ],
)
def test_a_phrase_means_this_and_nothing_else(said, meant):
    assert read(said) == meant
