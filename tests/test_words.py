import os
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from audio_fixtures.voices import say, voices_here
from dictate.grammar.jsgf import GrammarError
from dictate.grammar.pronunciation import (
    all_ways,
    general_pronunciations,
    other_words,
    read_pronunciations,
    with_own_words,
)
from dictate.grammar.spoken import CHARTING, SpokenLanguages, grammars_folder, spoken_languages
from dictate.phrases.normalise import spoken_words, written_forms
from dictate.speech.sphinx import SphinxRecogniser

ROOT = Path(__file__).resolve().parent.parent
LANGUAGES = spoken_languages()
WORDS = sorted({word for context in LANGUAGES.contexts for word in LANGUAGES[context].words})
BUILT_IN = read_pronunciations(grammars_folder() / "pronunciations.txt")
WAYS = all_ways(WORDS, BUILT_IN)


def own(folder: Path, pronunciations: str = "", words: str = "") -> dict[str, tuple[str, ...]]:
    """How words are said with these two files in the data folder."""
    (folder / "pronunciations.txt").write_text(pronunciations, encoding="utf-8")
    (folder / "words.txt").write_text(words, encoding="utf-8")
    return all_ways(WORDS, with_own_words(BUILT_IN, WORDS, folder))


def test_every_word_can_be_heard_by_the_embedded_engine():
    assert set(WAYS) == set(WORDS)


def test_no_word_has_so_many_ways_that_it_is_heard_everywhere():
    assert {word: ways for word, ways in WAYS.items() if len(ways) > 4} == {}


def test_no_two_words_sound_the_same():
    words_by_way = defaultdict(set)
    for word, ways in WAYS.items():
        for way in ways:
            words_by_way[way].add(word)
    same = {tuple(sorted(words)) for words in words_by_way.values() if len(words) > 1}
    assert same == {("to", "two")}  # never in the same place; both ways are the dictionary's


@pytest.mark.parametrize(
    ("word", "way"),
    [
        ("buccal", "B Y UW K AH L"),
        ("buccal", "B AH K AH L"),
        ("maxillary", "M AE K S AH L EH R IY"),
        ("maxillary", "M AE K S IH L AH R IY"),
        ("supernumerary", "S UW P ER N UW M ER EH R IY"),
        ("supernumerary", "S UW P ER N Y UW M AH R ER IY"),
        ("mesial", "M IY ZH AH L"),
        ("mesial", "M IY Z IY AH L"),
    ],
)
def test_a_word_of_the_trade_is_said_the_american_and_the_british_way(word, way):
    assert way in WAYS[word]


def test_without_files_of_ones_own_nothing_changes(tmp_path):
    assert with_own_words(BUILT_IN, WORDS, tmp_path) == BUILT_IN


def test_one_line_adds_a_way_to_say_a_word(tmp_path):
    assert own(tmp_path, "mesial  M EH S IY AH L  # as my colleague says it\n") == WAYS | {
        "mesial": (*WAYS["mesial"], "M EH S IY AH L")
    }


def test_what_the_general_dictionary_says_of_a_word_stays_too(tmp_path):
    assert "seven" not in BUILT_IN
    ways = own(tmp_path, "seven S EH B AH N\n")["seven"]
    assert ways == (*general_pronunciations(["seven"])["seven"], "S EH B AH N")


def test_a_way_that_is_known_is_not_added_again(tmp_path):
    assert own(tmp_path, f"mesial {WAYS['mesial'][0]}\n") == WAYS


def test_capitals_stress_numbers_and_a_mark_of_encoding_do_no_harm(tmp_path):
    assert "M EH S IY AH L" in own(tmp_path, "\ufeffMesial m eh1 s iy0 ah0 l\n")["mesial"]


def test_another_word_is_one_more_way_to_say_the_trades_term(tmp_path):
    assert own(tmp_path, words="niner = nine\n")["nine"] == (*WAYS["nine"], "N AY N ER")


def test_another_word_may_sound_as_ones_own_file_says(tmp_path):
    ways = own(tmp_path, "zahnstein T S AA N SH T AY N\n", "zahnstein = calculus\n")
    assert ways["calculus"] == (*WAYS["calculus"], "T S AA N SH T AY N")
    assert "zahnstein" not in ways


def test_other_words_are_told_with_what_they_stand_for(tmp_path):
    own(tmp_path, words="niner = nine # the radio's\n\nstone = calculus\n")
    meant = {other: word for other, (_, word) in other_words(WORDS, tmp_path).items()}
    assert meant == {"niner": "nine", "stone": "calculus"}


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("mesial", "write after mesial how it sounds"),
        ("mesial M II Z", "II is no phone"),
        ("mezial M IY Z IY AH L", "no phrase has the word “mezial”"),
        ("mesial P AA K AH T", "would sound just like “pocket”"),
    ],
)
def test_a_way_that_cannot_be_used_is_named_with_file_line_and_remedy(tmp_path, line, remedy):
    with pytest.raises(GrammarError) as refusal:
        own(tmp_path, f"# my words\n{line}\n")
    assert f"{tmp_path / 'pronunciations.txt'} line 2: " in str(refusal.value)
    assert remedy in str(refusal.value) and "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("stone calculus", "write it as"),
        ("stone =", "write it as"),
        ("hard stone = calculus", "write it as"),
        ("stone = calculous", "no phrase has the word “calculous”"),
        ("pocket = calculus", "“pocket” can be said already"),
        ("niner = nine", "“niner” can be said already"),
        ("zahnstein = calculus", "how “zahnstein” sounds"),
        ("for = mesial", "would sound just like “four”"),
    ],
)
def test_another_word_that_cannot_be_used_is_named_with_file_line_and_remedy(
    tmp_path, line, remedy
):
    with pytest.raises(GrammarError) as refusal:
        own(tmp_path, words=f"niner = nine\n{line}\n")
    assert f"{tmp_path / 'words.txt'} line 2: " in str(refusal.value)
    assert remedy in str(refusal.value) and "\n" not in str(refusal.value)


def test_a_file_that_is_no_text_is_refused(tmp_path):
    (tmp_path / "words.txt").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(GrammarError, match=r"words\.txt cannot be read"):
        with_own_words(BUILT_IN, WORDS, tmp_path)


@pytest.fixture
def own_folder(tmp_path, monkeypatch):
    """A data folder whose files are read anew, by this test alone."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    written_forms.cache_clear()
    yield tmp_path
    written_forms.cache_clear()


def test_another_word_can_be_typed(own_folder):
    (own_folder / "words.txt").write_text("stone = calculus\n")
    assert spoken_words("208 Stone 2") == spoken_words("208 calculus 2")


def test_a_written_form_is_not_taken_by_another_word(own_folder):
    written = next(each for each in written_forms() if each.isalpha() and each.islower())
    before = written_forms()[written]
    (own_folder / "words.txt").write_text(f"{written} = calculus\n")
    written_forms.cache_clear()
    assert written_forms()[written] == before


def languages_with(folder: Path, monkeypatch: pytest.MonkeyPatch) -> SpokenLanguages:
    monkeypatch.setenv("DICTATE_DATA", str(folder))
    return SpokenLanguages(grammars_folder(), (CHARTING,))


@pytest.mark.skipif("flite_slt" not in voices_here(), reason="flite is not installed")
def test_another_word_is_heard_and_the_trades_term_is_taken(tmp_path, monkeypatch):
    silence = np.zeros(6000, np.int16)
    voice = say("flite_slt", "two oh eight stone two, pocket five")
    spoken = np.concatenate([silence, voice, silence])
    without = SphinxRecogniser(languages_with(tmp_path, monkeypatch)).finish(spoken)
    assert without.text != "two oh eight calculus two pocket five" or without.trust != "sure"
    (tmp_path / "words.txt").write_text("stone = calculus\n")
    heard = SphinxRecogniser(languages_with(tmp_path, monkeypatch)).finish(spoken)
    assert (heard.text, heard.trust) == ("two oh eight calculus two pocket five", "sure")


def test_check_says_which_line_is_wrong_and_that_charting_needs_it_right(tmp_path):
    (tmp_path / "pronunciations.txt").write_text("mezial M IY Z IY AH L\n")
    run = subprocess.run(
        [sys.executable, "-m", "dictate", "check"],
        capture_output=True,
        text=True,
        env={**os.environ, "DICTATE_DATA": str(tmp_path)},
        cwd=ROOT,
        check=False,
    )
    assert run.returncode == 1
    assert "✗ own words" in run.stdout
    assert f"{tmp_path / 'pronunciations.txt'} line 1" in run.stdout
