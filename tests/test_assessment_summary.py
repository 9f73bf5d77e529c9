import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.summary import MISSING_TOOTH, index_mean, mouth_summary, summary_sentences
from tests.test_assessment_attachment import charted


def test_the_mean_index_is_over_the_teeth_that_were_graded():
    chart = charted("dog", (108, "calculus", 3), (208, "calculus", 0), (308, "plaque", 2))
    found = index_mean(chart, "calculus")
    assert (found.mean, found.n) == (1.5, 2)


def test_a_tooth_charted_normal_is_not_taken_for_grade_nought():
    chart = charted("dog", (108, "calculus", 3), (208, "normal"))
    assert index_mean(chart, "calculus").mean == 3


def test_an_index_that_was_not_graded_has_no_mean():
    assert index_mean(charted("dog"), "gingivitis").mean is None


@pytest.mark.parametrize("scale", [3, 4])
def test_every_mean_states_its_scale(scale):
    # Source: Logan and Boyce 1994 (0-3); 0-4 common practice, no source.
    chart = charted("dog", (108, "calculus", 2), index_scale=scale)
    assert (
        f"mean 2.0 on the scale 0-{scale}, 1 tooth graded" in index_mean(chart, "calculus").sentence
    )


def test_provisional_stages_are_counted_apart():
    # Source: AVDC nomenclature, Periodontal Disease: stages.
    chart = charted(
        "dog",
        (108, "horizontal_bone_loss", 10),
        (208, "pocket", 6, "mesial"),
        (308, "furcation", 3),
    )
    counts = {
        each.stage: (each.settled, each.provisional) for each in mouth_summary(chart).stage_counts
    }
    assert counts == {0: (0, 0), 1: (0, 0), 2: (1, 1), 3: (0, 0), 4: (1, 0)}


def test_a_missing_tooth_says_what_it_may_be():
    # Source: AVDC nomenclature, Abnormalities of Teeth.
    (missing,) = mouth_summary(charted("dog", (208, "missing"))).missing
    assert (missing.tooth, missing.sentence) == (208, MISSING_TOOTH)


@pytest.mark.parametrize(
    ("kind", "words"), [("unerupted", "unerupted"), ("root_remnant", "root is left")]
)
def test_what_is_known_of_a_missing_tooth_is_said(kind, words):
    (missing,) = mouth_summary(charted("dog", (208, "missing"), (208, kind))).missing
    assert words in missing.sentence


def test_the_summary_in_sentences_names_stages_and_missing_teeth():
    chart = charted("dog", (108, "furcation", 3), (308, "pocket", 5, "mesial"), (208, "missing"))
    sentences = summary_sentences(mouth_summary(chart))
    assert sentences[-2:] == (
        "Periodontal stages: PD2 1 provisional, PD4 1.",
        f"208: {MISSING_TOOTH}.",
    )


@given(st.dictionaries(st.sampled_from([101, 104, 108, 208, 309, 409]), st.integers(0, 4)))
def test_a_mean_lies_between_the_least_and_the_highest_grade(grades):
    found = index_mean(charted("dog", *((t, "calculus", g) for t, g in grades.items())), "calculus")
    assert found.n == len(grades)
    assert not grades or min(grades.values()) <= found.mean <= max(grades.values())
