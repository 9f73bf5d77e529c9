import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.grammar.spoken import SpokenLanguage, charting_language, spoken_languages
from dictate.phrases import match
from dictate.phrases.normalise import filler_words, spoken_words
from dictate.phrases.reading import Part, read_typed, read_utterance
from dictate.phrases.repair import Repair, repaired
from dictate.phrases.statements import ChooseTooth, Command, Found, Unclear

LANGUAGE = charting_language()


def read(text: str) -> tuple:
    return read_utterance(LANGUAGE, text).statements


@pytest.mark.parametrize(
    ("written", "spoken"),
    [
        ("208", "two oh eight"),
        ("110 211", "one ten two eleven"),
        ("5mm", "five millimeters"),
        ("5.5 mm", "five point five millimeters"),
        ("two-oh-eight, Calculus 2.", "two oh eight calculus two"),
        ("pocket 21", "pocket twenty one"),
        ("mesiobuccal", "mesio buccal"),
        ("109 CCF", "one oh nine complicated crown fracture"),
        ("108 ucf", "one oh eight uncomplicated crown fracture"),
        ("100 %", "one hundred percent"),
        ("20 30 22 95", "twenty thirty twenty two ninety five"),
        ("0 7 10 19", "zero seven ten nineteen"),
        ("012 045 2080", "012 045 2080"),
        ("at", "at"),
        ("AT", "attrition"),
    ],
)
def test_written_words_are_read_as_they_are_spoken(written, spoken):
    assert " ".join(spoken_words(written)) == spoken


@pytest.mark.parametrize("tooth", [101, 110, 204, 208, 311, 309, 411, 504, 808])
def test_a_tooth_is_chosen_by_its_modified_triadan_number(tooth):
    assert read(str(tooth)) == (ChooseTooth(tooth),)


@pytest.mark.parametrize(
    ("name", "tooth"),
    [
        # Source: modified Triadan system, Floyd 1991; carnassials 108, 208, 309, 409.
        ("left upper canine", 204),
        ("right maxillary fourth premolar", 108),
        ("lower left first molar", 309),
        ("upper left carnassial", 208),
        ("right mandibular carnassial", 409),
        ("maxillary right third incisor", 103),
        ("upper left deciduous canine", 604),
        ("lower right deciduous third premolar", 807),
    ],
)
def test_a_tooth_is_chosen_by_its_name(name, tooth):
    assert read(name) == (ChooseTooth(tooth, by_name=tooth < 500),)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("calculus two", Found("calculus", 2)),
        ("grade one gingivitis", Found("gingivitis", 1)),
        ("no plaque", Found("plaque", 0)),
        ("pocket five millimeters mesial", Found("pocket", 5, "mesial")),
        ("probing depth of 7", Found("pocket", 7)),
        ("pocket palatal six", Found("pocket", 6, "palatal")),
        ("mesial pocket five", Found("pocket", 5, "mesial")),
        ("pocket 2.5 distal", Found("pocket", 2.5, "distal")),
        ("recession three on the buccal", Found("recession", 3, "buccal")),
        ("gingival hyperplasia four", Found("enlargement", 4)),
        ("furcation stage two lingual", Found("furcation", 2, "lingual")),
        ("class two mobility", Found("mobility", 2)),
        ("is missing", Found("missing")),
        ("fractured", Found("fracture", "FX")),
        ("complicated crown root fracture", Found("fracture", "CCRF")),
        ("stage four b resorption", Found("resorption", "4b")),
        ("TR 3", Found("resorption", 3)),
        ("abrasion", Found("wear", "AB")),
        ("bleeding on probing", Found("bleeding")),
        ("within normal limits", Found("normal")),
    ],
)
def test_a_finding_is_read_from_its_spoken_or_typed_form(text, found):
    assert read(text) == (found,)


def test_findings_follow_the_tooth_they_were_spoken_with():
    assert read("208 calculus 2 pocket 5") == (
        ChooseTooth(208),
        Found("calculus", 2, None, 208),
        Found("pocket", 5, None, 208),
    )


def test_a_depth_run_gives_three_depths_from_mesial_to_distal():
    assert read("buccal three two three, lingual two two four") == (
        Found("pocket", 3, "mesiobuccal"),
        Found("pocket", 2, "buccal"),
        Found("pocket", 3, "distobuccal"),
        Found("pocket", 2, "mesiolingual"),
        Found("pocket", 2, "lingual"),
        Found("pocket", 4, "distolingual"),
    )


def test_a_site_spoken_first_holds_until_the_next():
    assert read("mesial pocket five recession two distal pocket three") == (
        Found("pocket", 5, "mesial"),
        Found("recession", 2, "mesial"),
        Found("pocket", 3, "distal"),
    )


def test_after_next_tooth_a_finding_belongs_to_no_tooth_by_name():
    assert read("208 calculus one next tooth calculus two")[2:] == (
        Command("next"),
        Found("calculus", 2),
    )


def test_what_is_not_understood_is_kept_and_the_rest_is_read():
    assert read("208 calculus 2 zorp quux pocket 5") == (
        ChooseTooth(208),
        Found("calculus", 2, None, 208),
        Unclear("zorp quux"),
        Found("pocket", 5, None, 208),
    )


@pytest.mark.parametrize("text", ["208 209 calculus 1", "pocket", "calculus two three", "hello"])
def test_what_cannot_be_read_is_never_guessed_into_a_finding(text):
    found = [each for each in read(text) if isinstance(each, Found)]
    assert any(isinstance(each, Unclear) for each in read(text))
    assert found in ([], [Found("calculus", 2)])


def test_words_that_mean_two_things_mean_nothing():
    reading = read_utterance(LANGUAGE, "208 209 calculus 1")
    assert reading.ambiguous
    assert reading.statements == (Unclear("two oh eight two oh nine calculus one"),)


def test_of_words_that_mean_two_things_the_repairs_are_still_told():
    reading = read_utterance(LANGUAGE, "208 209 calclus 1")
    assert reading.repairs == (Repair("calclus", "calculus"),)
    assert reading.words == tuple("two oh eight two oh nine calculus one".split())


def test_words_that_can_be_read_in_more_ways_than_the_bound_mean_nothing(monkeypatch):
    monkeypatch.setattr(match, "_MOST_WAYS", 4)
    words = "two oh eight two oh nine calculus one".split()
    assert len(match.cheapest_paths(LANGUAGE.automaton, words * 2, filler_words())) == 4
    with pytest.raises(match.TooManyWaysError):
        match.cheapest_paths(LANGUAGE.automaton, words * 3, filler_words())
    reading = read_utterance(LANGUAGE, "208 209 calclus 1 " * 3)
    assert reading.ambiguous is True
    assert reading.words == tuple(words * 3)
    assert reading.repairs == (Repair("calclus", "calculus"),) * 3
    said = "two oh eight two oh nine calclus one"
    assert reading.parts == (Part(Unclear(" ".join([said] * 3)), 0, 24),)


def test_a_filler_word_that_a_sentence_has_is_read_and_not_passed_over():
    (path,) = match.cheapest_paths(LANGUAGE.automaton, "what is left".split(), filler_words())
    assert path.cost == 0


@pytest.mark.parametrize("text", ["", "zorp", "208 missing"])
def test_while_nothing_is_charted_only_the_words_that_start_it_again_mean_something(text):
    waiting = spoken_languages().waiting
    reading = read_utterance(waiting, text)
    words = spoken_words(text)
    assert reading.statements == ((Unclear(" ".join(words)),) if words else ())
    assert not reading.ambiguous
    assert read_utterance(waiting, "start listening").statements == (Command("start_listening"),)


def test_filler_words_change_nothing():
    assert read("there is a pocket of 5 mm, please") == read("pocket 5 mm")


def test_a_near_miss_is_put_right_and_said_so():
    reading = read_utterance(LANGUAGE, "208 calclus 2")
    assert reading.repairs == (Repair("calclus", "calculus"),)
    assert Found("calculus", 2, None, 208) in reading.statements


@pytest.mark.parametrize("word", ["fur", "nin", "sial", "balal", "millimeetings"])
def test_what_is_not_close_to_one_word_alone_is_not_repaired(word):
    assert read_utterance(LANGUAGE, word).repairs == ()


@pytest.mark.parametrize(
    ("word", "vocabulary", "taken"),
    [
        ("plaqe", {"plaque", "calculus"}, "plaque"),
        ("molaar", {"molar"}, "molar"),
        ("molad", {"molar"}, "molar"),  # four letters of five are just close enough
        ("mopad", {"molar"}, None),
        ("molr", {"molar"}, None),  # short words are all alike
        ("bleed", {"bleeding"}, None),  # a part of a word is not the word
        ("fractured", {"fracture"}, "fracture"),
        ("palat", {"palate", "palato"}, None),
    ],
)
def test_a_word_is_repaired_where_one_word_alone_is_close_enough(word, vocabulary, taken):
    repair = (Repair(word, taken),) if taken else ()
    assert repaired([word], vocabulary, ()) == ((taken or word,), repair)


def test_words_that_are_known_are_not_repaired():
    words = ("molars", "molar", "shows")
    assert repaired(words, {"molar", "show"}, {"molars", "shows"}) == (words, ())
    assert repaired(words, {"molar", "molars"}, {"shows"}) == (words, ())


def test_typed_text_is_read_in_a_part_that_knows_its_words_before_one_that_repairs_them(tmp_path):
    for word in ("molar", "molars"):
        rule = f"public <utterance> = {word} {{kind={word}}} {{!finding}};"
        (tmp_path / f"{word}.jsgf").write_text(f"#JSGF V1.0 UTF-8 en;\ngrammar {word};\n{rule}\n")
    one, several = (SpokenLanguage(tmp_path, f"{each}.utterance") for each in ("molar", "molars"))
    assert read_typed((one, several), "molars").statements == (Found("molars"),)
    assert read_typed((several, one), "molar").statements == (Found("molar"),)
    assert read_typed((one, several), "molaar").repairs == (Repair("molaar", "molar"),)


def test_what_follows_words_that_may_have_named_a_tooth_keeps_its_words_and_means_nothing():
    reading = read_utterance(LANGUAGE, "plaque one zorp eight calculus two 209 pocket four")
    assert reading.statements == (
        Found("plaque", 1),
        Unclear("zorp eight"),
        Unclear("calculus two"),
        ChooseTooth(209),
        Found("pocket", 4, None, 209),
    )


def test_numbers_are_never_repaired():
    assert not any(isinstance(each, Found) for each in read("calculus thrree"))


def test_every_part_knows_the_words_it_came_from():
    reading = read_utterance(LANGUAGE, "two oh eight calculus two pocket five mesial")
    assert [(part.first, part.end) for part in reading.parts] == [(0, 3), (3, 5), (5, 8)]


def test_a_finding_has_the_words_it_was_read_from_and_those_of_a_site_said_before_it():
    reading = read_utterance(LANGUAGE, "208 mesial pocket five recession two calculus one")
    places = range(len(reading.words))
    assert [[place for place in places if part.has(place)] for part in reading.parts] == [
        [0, 1, 2],
        [3, 4, 5],
        [3, 6, 7],
        [8, 9],
    ]


@given(st.text(max_size=60))
def test_no_text_breaks_the_reader(text):
    reading = read_utterance(LANGUAGE, text)
    assert bool(reading.parts) == bool(set(reading.words) - filler_words())


@given(st.lists(st.sampled_from(LANGUAGE.words), max_size=14))
def test_every_word_is_in_one_part_in_order(words):
    reading = read_utterance(LANGUAGE, " ".join(words))
    ends = [part.end for part in reading.parts]
    assert ends == sorted(ends)
    assert not ends or ends[-1] <= len(reading.words)


def test_a_text_that_can_be_read_in_very_many_ways_is_unclear_at_once():
    text = "mesio labial class seven furcatesio labial class seven " * 30
    began = time.process_time()
    assert not read_utterance(LANGUAGE, text).is_clear
    assert time.process_time() - began < 5
