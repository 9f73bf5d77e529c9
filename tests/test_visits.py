from datetime import date

import pytest

from dictate.cases.visit_words import compared_words, ground_words, none_words, state_words
from dictate.cases.visits import dated_charts, side_by_side, stored_visit, visits_before
from dictate.errors import DictateError
from dictate.history.series import series
from tests.case_store import keep, kept_cases


@pytest.fixture
def store(tmp_path):
    return kept_cases(tmp_path)


def compared(store, later, earlier):
    return side_by_side(store, stored_visit(store, later), earlier)


def test_the_last_visit_of_the_same_animal_is_found_with_its_ground(store):
    before = visits_before(store, store.load("mila-2")[0])
    assert before.last.case.id == "mila-1"
    assert ground_words(before.last.judgement) == (
        "The same animal: both dogs named Mila, owner reference K-1042."
    )


def test_a_visit_that_only_may_be_of_the_animal_is_never_taken_unasked(store):
    zoe = store.load("zoe-2")[0]
    before = visits_before(store, zoe)
    assert before.last is None
    assert [each.case.id for each in before.possible] == ["zoe-1"]
    assert "possibly zoe-1 of 2026-04-04 (both cats named Zoe; but" in none_words(zoe, before)


def test_many_possible_visits_are_counted(store):
    for number in range(5):
        keep(store, f"old-{number}", 500 + number, "208 calculus 1", owner_reference="")
    mila = store.load("mila-1")[0]
    assert none_words(mila, visits_before(store, mila)).endswith("; and 2 more.")


def test_an_animal_without_a_name_has_no_earlier_visits(store):
    nameless = keep(store, "nameless", 0, animal="")
    assert "states no animal's name" in none_words(nameless, visits_before(store, nameless))


def test_visits_side_by_side(store):
    found = compared(store, "mila-2", "mila-1")
    assert found.comparison.lost == (404,)
    assert [each.by for each in found.comparison.deeper] == [3]


def test_a_visit_that_is_named_is_compared_with_a_caution(store):
    found = compared(store, "bo-1", "mila-1")
    assert ground_words(found.judgement).startswith("CAUTION: another animal by what is stated:")


@pytest.mark.parametrize(
    "later, earlier, sentence",
    [
        ("mila-1", "mila-2", "mila-2 was not opened before mila-1"),
        ("mila-1", "mila-1", "cannot be compared with itself"),
        ("mila-2", "zoe-1", "A cat and a dog cannot be compared"),
        ("mila-2", "none-1", "There is no case none-1"),
    ],
)
def test_what_cannot_be_compared_is_said_in_a_sentence(store, later, earlier, sentence):
    with pytest.raises(DictateError, match=sentence):
        compared(store, later, earlier)


def test_an_extraction_at_a_visit_in_between_is_told(store):
    keep(store, "mila-between", 100, "404 surgical extraction")
    [change] = compared(store, "mila-2", "mila-1").comparison.teeth
    assert change.words() == "404: present then, extracted at a visit in between."


def test_how_far_a_visit_came_in_words(store):
    assert state_words(stored_visit(store, "bo-1")) == ("Nothing is charted yet.",)
    keep(store, "asked", 0, "208 pocket 6 mesial", "208 pocket 7 mesial")
    examined, events, waiting = state_words(stored_visit(store, "asked"))
    assert examined == "1 of 42 teeth examined."
    assert events.startswith("5 events, the last 2026-05-04")
    assert waiting == "1 utterance waits for an answer."


def test_what_waits_for_an_answer_is_not_compared_and_that_is_said(store):
    keep(store, "mila-3", -9, "208 pocket 6 mesial", "208 pocket 9 mesial")
    words = compared_words(compared(store, "mila-3", "mila-2"))
    assert words[-1] == "mila-3: 1 utterance waits for an answer. It is not compared."


def test_depths_at_a_site_over_all_visits_of_the_animal(store):
    visits = dated_charts(store, store.load("mila-2")[0])
    assert [(each.tooth, each.place, each.points) for each in series(visits)] == [
        (208, "mesial", ((date(2025, 3, 30), 4.0), (date(2026, 5, 4), 7.0)))
    ]
