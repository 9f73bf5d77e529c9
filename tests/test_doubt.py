"""Which words are in doubt: rivals, a second look, and what may stand in a word's place."""

from dataclasses import replace
from random import Random

import pytest

from dictate.grammar.sample import sentence
from dictate.grammar.spoken import charting_language, spoken_languages
from dictate.grammar.substitution import changed_once, substitutes
from dictate.speech.doubt import Evidence, Rival, judge
from dictate.speech.recogniser import DoubtfulWord, HeardWord

SAID = "two oh eight pocket five".split()


def heard(support: float = -3.0, words: list[str] = SAID, **more) -> Evidence:
    spoken = tuple(
        HeardWord(word, 0.3 * place, 0.3 * place + 0.3, support) for place, word in enumerate(words)
    )
    return Evidence(spoken, is_sentence=True, support=support, covered=1.0, **more)


def test_a_sentence_that_nothing_speaks_against_is_sure():
    assert judge(heard(), "engine").trust == "sure"


def test_in_much_noise_a_sentence_has_to_be_borne_out_better():
    assert judge(heard(-4.6), "engine").trust == "sure"
    assert judge(heard(-4.6, is_noisy=True), "engine").trust == "doubtful"
    assert judge(heard(-4.4, is_noisy=True), "engine").trust == "sure"


def test_what_was_much_too_loud_is_asked_about():
    assert judge(heard(clipped=0.04), "engine").trust == "sure"
    hypothesis = judge(heard(clipped=0.06), "engine")
    assert hypothesis.trust == "doubtful"
    assert hypothesis.reason == "It was too loud: turn the input level down."


def test_a_rival_near_by_makes_its_word_doubtful_and_no_other():
    hypothesis = judge(heard(rivals=(Rival(4, "nine", 3.0),)), "engine")
    assert hypothesis.trust == "doubtful"
    assert hypothesis.doubtful_words == (DoubtfulWord(4, ("nine",)),)
    assert hypothesis.reason == "“five” or “nine”?"


def test_a_rival_far_behind_is_none():
    assert judge(heard(rivals=(Rival(4, "nine", 35.0),)), "engine").trust == "sure"


def test_in_noise_a_rival_has_to_be_further_behind_than_in_clear_sound():
    rivals = (Rival(4, "nine", 10.0),)
    assert judge(heard(rivals=rivals), "engine").trust == "doubtful"
    assert judge(heard(rivals=rivals, is_clear=True), "engine").trust == "sure"


def test_words_known_to_be_confused_are_held_to_the_strict_bound_in_clear_sound_too():
    rivals = (Rival(4, "nine", 10.0, is_confusable=True),)
    assert judge(heard(rivals=rivals, is_clear=True), "engine").trust == "doubtful"


def test_a_word_that_is_badly_borne_out_needs_a_greater_margin():
    rivals = (Rival(4, "nine", 20.0),)
    assert judge(heard(rivals=rivals), "engine").trust == "sure"
    assert judge(heard(-5.3, rivals=rivals), "engine").trust == "doubtful"


def test_a_second_look_that_differs_in_one_word_makes_that_word_doubtful():
    look = ("two", "oh", "eight", "pocket", "nine")
    hypothesis = judge(heard(second_look=look), "engine")
    assert hypothesis.doubtful_words == (DoubtfulWord(4, ("nine",)),)


def test_a_second_look_at_another_sentence_leaves_all_of_it_in_doubt():
    hypothesis = judge(heard(second_look=("caries",)), "engine")
    assert (hypothesis.trust, hypothesis.doubtful_words) == ("doubtful", ())


def test_talk_is_refused_whatever_its_words():
    assert judge(heard(-6.5), "engine").trust == "foreign"


def test_what_is_not_covered_by_words_leaves_all_of_it_in_doubt():
    assert judge(replace(heard(), covered=0.4), "engine").reason == "Something more was said."


def test_another_number_may_stand_in_the_place_of_a_number():
    places = substitutes(charting_language(), SAID)
    assert {"nine", "two", "fifteen"} <= set(places[4])
    assert "zero" in places[1]


@pytest.mark.parametrize("number", range(20))
def test_with_any_substitute_it_is_a_sentence_too(number):
    language = charting_language()
    words = sentence(language.rules, language.root, Random(number), 0.3).split()
    if words:
        for place, others in enumerate(substitutes(language, words)):
            assert words[place] not in others
            for other, weight in others.items():
                assert language.allows([*words[:place], other, *words[place + 1 :]])
                assert 0 < weight <= 1


def test_one_word_is_changed_and_no_more():
    arcs = changed_once(["a", "b"], ({"x": 1.0}, {"y": 1.0}))
    ways = {(start, word): end for start, end, _, word in arcs}

    def end(*words: str) -> int | None:
        state: int | None = 0
        for word in words:
            state = ways.get((state, word)) if state is not None else None
        return state

    assert end("a", "b") == 2
    assert end("x", "b") == end("a", "y") == 5
    assert end("x", "y") is None


def test_oh_and_zero_mean_the_same():
    language = charting_language()
    assert language.tags("two oh eight".split()) == language.tags("two zero eight".split())
    assert language.tags("two oh eight".split()) != language.tags("two oh nine".split())


def test_agents_are_confusable():
    assert spoken_languages().are_confusable("mepivacaine", "bupivacaine")
    assert not spoken_languages().are_confusable("mesial", "nine")
