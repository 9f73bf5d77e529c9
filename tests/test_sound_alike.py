import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.grammar.pronunciation import PHONES, all_ways
from dictate.grammar.sound_alike import (
    ALIKE,
    distance,
    sound_alikes,
    substitution_cost,
)
from dictate.grammar.spoken import spoken_languages

LANGUAGES = spoken_languages()
WAYS = all_ways(LANGUAGES.words, LANGUAGES.pronunciations)
ALL = sound_alikes(LANGUAGES, WAYS, 0.4)
NEAR = sound_alikes(LANGUAGES, WAYS)
PHONE = st.sampled_from(sorted(PHONES))
WAY = st.lists(PHONE, min_size=1, max_size=8).map(" ".join)


def place_of(*words: str) -> int:
    """Where a pair stands among those that may stand for one another, the nearest first."""
    whole = [pair.words for pair in ALL if pair.sentences]
    return whole.index(tuple(sorted(words))) + 1


@given(PHONE, PHONE)
def test_a_phone_is_no_nearer_to_another_than_that_is_to_it(phone, other):
    assert substitution_cost(phone, other) == substitution_cost(other, phone)
    assert (substitution_cost(phone, other) == 0.0) == (phone == other)


@given(WAY, WAY)
def test_words_are_as_far_apart_from_either_side(way, other):
    assert distance([way], [other]) == pytest.approx(distance([other], [way]))
    assert distance([way], [way]) == 0.0


@given(WAY, WAY, WAY)
def test_another_way_to_say_a_word_brings_it_no_further_away(way, second, other):
    assert distance([way, second], [other]) <= distance([way], [other])


@pytest.mark.parametrize(
    ("near", "far"),
    [
        # Noise hides place before voice and nasality. Source: Miller and Nicely 1955.
        (("P", "K"), ("P", "B")),
        (("T", "D"), ("T", "N")),
        (("M", "N"), ("M", "B")),
        (("F", "TH"), ("S", "K")),
        (("IH", "IY"), ("IY", "AA")),
        (("AH", "ER"), ("IY", "ER")),
        (("AE", "EH"), ("AE", "UW")),
    ],
)
def test_phones_made_alike_are_nearer_than_others(near, far):
    assert substitution_cost(*near) < substitution_cost(*far)


@pytest.mark.parametrize("tens", ["thir", "four", "fif", "six", "seven", "eigh", "nine"])
def test_the_teens_and_tens_that_engines_confuse_come_first(tens):
    tenfold = {"four": "forty"}.get(tens, f"{tens}ty")
    assert place_of(f"{tens}teen", tenfold) <= 20


@pytest.mark.parametrize(
    ("words", "at_worst"),
    [
        (("mesial", "mesio"), 30),
        (("buccal", "palatal"), 100),
        (("first", "third"), 100),
        (("labial", "lingual"), 160),
    ],
)
def test_pairs_that_were_heard_for_one_another_are_near(words, at_worst):
    assert place_of(*words) <= at_worst


def test_a_pair_names_two_sentences_that_differ_in_it_alone():
    for pair in NEAR:
        if pair.sentences is None:
            continue
        first, second = (sentence.split() for sentence in pair.sentences)
        different = [words for words in zip(first, second, strict=True) if words[0] != words[1]]
        assert different == [pair.words]
        assert LANGUAGES[pair.context].allows(first)
        assert LANGUAGES[pair.context].allows(second)


def test_words_that_mean_the_same_are_no_pair():
    pairs = {pair.words for pair in ALL}
    assert not pairs & {("millimeter", "millimeters"), ("mobile", "mobility"), ("node", "nodes")}


def test_words_that_never_stand_in_the_same_place_are_no_pair():
    # They sound the same: all that keeps them apart is where they can stand.
    assert ("to", "two") not in {pair.words for pair in NEAR if pair.sentences}


def test_the_nearest_come_first_and_none_is_beyond_the_limit():
    distances = [pair.distance for pair in NEAR]
    assert distances == sorted(distances)
    assert distances[-1] <= ALIKE


def test_the_list_is_made_in_less_than_two_seconds():
    languages = type(LANGUAGES)(LANGUAGES["charting"].folder, LANGUAGES.contexts)
    began = time.process_time()
    sound_alikes(languages, WAYS)
    assert time.process_time() - began < 2.0
