"""Which cases are of one animal. The rules are common practice, no source."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.history.same_animal import earlier_visits, judge

MILA = Case(
    id="mila-1",
    species="dog",
    opened=datetime(2025, 3, 2, 9, tzinfo=UTC),
    animal="Mila",
    owner_reference="K-1042",
)


def like(case=MILA, **changed):
    return case.model_copy(update={"id": "other", **changed})


def test_species_name_and_owner_make_the_same_animal_and_the_ground_names_them():
    found = judge(MILA, like())
    assert found.sameness == "same"
    assert found.ground == "both dogs named Mila, owner reference K-1042"


@pytest.mark.parametrize("changed", [{"animal": " mila "}, {"owner_reference": "k-1042"}])
def test_capital_letters_and_spaces_make_no_other_animal(changed):
    assert judge(MILA, like(**changed)).sameness == "same"


@pytest.mark.parametrize(
    "changed, ground",
    [
        ({"species": "cat"}, "a dog and a cat"),
        ({"animal": "Milo"}, "two names: “Mila” and “Milo”"),
        ({"animal": ""}, "one has no name"),
        ({"owner_reference": "K-7"}, "two owner references: K-1042 and K-7"),
    ],
)
def test_what_makes_it_another_animal(changed, ground):
    found = judge(MILA, like(**changed))
    assert (found.sameness, found.ground) == ("different", ground)


@pytest.mark.parametrize(
    "changed, ground",
    [
        ({"owner_reference": ""}, "only one states an owner reference"),
        ({"animal": "Milá"}, "one is written Milá"),
        ({"birth_date": date(2020, 2, 1)}, "born 2019-01-01 and 2020-02-01"),
        ({"sex": "male"}, "female and male"),
        ({"breed": "pug"}, "Collie and pug"),
        ({"age_years": 12.0, "birth_date": None}, "their ages do not agree"),
    ],
)
def test_what_leaves_it_to_a_person(changed, ground):
    mila = like(birth_date=date(2019, 1, 1), sex="female", breed="Collie")
    found = judge(mila, like(mila, **changed))
    assert found.sameness == "possible"
    assert found.ground.endswith(f"; but {ground}")


def test_a_name_alone_is_never_enough():
    one = like(owner_reference="", birth_date=date(2019, 1, 1))
    found = judge(one, like(one))
    assert found.sameness == "possible"
    assert "neither states an owner reference" in found.ground


def test_ages_a_visit_apart_agree():
    then, now = like(age_years=5.0), like(age_years=6.0, opened=datetime(2026, 5, 4, tzinfo=UTC))
    assert judge(now, then).sameness == "same"


def test_earlier_visits_come_the_latest_first_and_never_the_case_itself():
    first = like(id="a", opened=datetime(2024, 1, 1, tzinfo=UTC))
    second = like(id="b", opened=datetime(2024, 6, 1, tzinfo=UTC))
    unsure = like(id="c", opened=datetime(2024, 9, 1, tzinfo=UTC), owner_reference="")
    later = like(id="d", opened=datetime(2026, 1, 1, tzinfo=UTC))
    other = like(id="e", opened=datetime(2024, 2, 1, tzinfo=UTC), owner_reference="K-7")
    found = earlier_visits(MILA, [first, second, unsure, later, other, MILA])
    assert [each.case.id for each in found.same] == ["b", "a"]
    assert [each.case.id for each in found.possible] == ["c"]
    assert found.last is found.same[0]


cases = st.builds(
    Case,
    id=st.just("one"),
    species=st.sampled_from(["dog", "cat"]),
    opened=st.datetimes(
        datetime(2020, 1, 1),
        datetime(2026, 1, 1),
        timezones=st.just(UTC),
    ),
    animal=st.sampled_from(["", "Mila", "mila", "Milá", "Zoë"]),
    owner_reference=st.sampled_from(["", "K-1", "k-1", "K-2"]),
    birth_date=st.sampled_from([None, date(2015, 1, 1), date(2018, 1, 1)]),
    breed=st.sampled_from(["", "pug", "Pug", "collie"]),
)


@given(cases, cases)
def test_judging_knows_no_order(one, other):
    assert judge(one, other).sameness == judge(other, one).sameness


@given(cases, cases)
def test_cases_are_joined_only_where_both_state_one_owner(one, other):
    if judge(one, other).sameness == "same":
        assert one.owner_reference and one.species == other.species
        assert one.owner_reference.casefold() == other.owner_reference.casefold()
        assert one.animal.casefold() == other.animal.casefold() != ""
