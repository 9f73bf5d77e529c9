"""What became of a mouth over several visits. The error of probing is about 1 mm: periodontal
literature, from memory; what counts as a change from there on is our own choice, no source."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.errors import DictateError
from dictate.history.progression import SiteDepths, progression
from dictate.history.progression_words import (
    bars,
    change_words,
    figures,
    index_words,
    lost_words,
    stage_words,
    telling,
    tooth_stages,
)
from dictate.history.series import DatedChart, series
from tests.test_comparison import chart

FIRST = date(2022, 5, 4)


def visits(*charts):
    return [DatedChart(FIRST + timedelta(days=365 * n), each) for n, each in enumerate(charts)]


def over(*phrases_by_visit, **fields):
    return progression(visits(*(chart(*phrases, **fields) for phrases in phrases_by_visit)))


def site(*depths):
    return SiteDepths(208, "mesial", depths)


def test_a_site_visit_by_visit_with_a_gap_where_it_was_not_probed():
    found = over(["208 pocket 4 mesial"], ["208 calculus 1"], ["208 pocket 7 mesial"])
    [only] = found.sites
    assert (only.tooth, only.place, only.depths) == (208, "mesial", (4, None, 7))
    assert (only.since_first, only.since_last) == (3, 3)


def test_labial_and_buccal_are_one_side_over_the_visits():
    found = over(["204 pocket 4 labial"], ["204 pocket 5 buccal"])
    assert [each.depths for each in found.sites] == [(4, 5)]


@pytest.mark.parametrize(
    "depths, words",
    [
        ((4, 7), "3 mm deeper"),
        ((4, None, 7), "3 mm deeper"),
        ((7, 4), "3 mm less deep"),
        ((4, 5), "within the error of probing"),
        ((4, 4), "as it was"),
        (
            (3, 4, 5),
            "2 mm deeper since the first, within the error of probing since the one before",
        ),
        ((4, 7, None), "3 mm deeper; not probed at the last visit"),
        ((None, 4), "probed once"),
        ((3, 7, 4), "within the error of probing since the first, 3 mm less deep since the one "
         "before"),
    ],
)  # fmt: skip
def test_a_change_in_words(depths, words):
    assert change_words(site(*depths)) == words


def test_a_site_that_creeps_by_a_millimetre_a_visit_is_told():
    found = over(*([f"208 pocket {depth} mesial"] for depth in (1, 2, 3)))
    assert [each.depths for each in telling(found)[0]] == [(1, 2, 3)]


def test_a_site_that_is_normal_and_as_it_was_is_not_told():
    assert telling(over(["208 pocket 2 mesial"], ["208 pocket 3 mesial"]))[0] == ()


def test_a_deep_site_that_only_this_visit_probed_is_no_history():
    assert telling(over(["208 calculus 1"], ["208 pocket 9 mesial"]))[0] == ()


def test_of_too_many_sites_the_gravest_are_told_and_the_others_counted():
    found = over(
        ["208 pocket 4 mesial", "104 pocket 4 mesial", "309 pocket 4 mesial"],
        ["208 pocket 5 mesial", "104 pocket 6 mesial", "309 pocket 9 mesial"],
    )
    told, left = telling(found, 2)
    assert ([each.tooth for each in told], left) == ([104, 309], 1)


@pytest.mark.parametrize(
    "by_visit, words",
    [
        ([["404 calculus 1"], ["404 missing"], ["404 missing"]],
         "404: present 2022-05-04, missing 2023-05-04, no extraction is charted"),
        ([["404 calculus 1"], ["208 calculus 1"], ["404 missing"]],
         "404: present 2022-05-04, missing 2024-05-03, no extraction is charted"),
        ([["404 calculus 1", "404 surgical extraction"], ["404 missing"]],
         "404: extracted 2022-05-04"),
        ([["404 calculus 1"], ["404 surgical extraction"], ["404 missing"]],
         "404: extracted 2023-05-04"),
    ],
)  # fmt: skip
def test_when_a_tooth_was_lost(by_visit, words):
    found = over(*by_visit)
    assert [lost_words(each, found.days) for each in found.lost] == [words]


def test_a_tooth_that_was_always_missing_was_not_lost():
    assert over(["404 missing"], ["404 missing"]).lost == ()


def test_a_deciduous_tooth_is_shed_not_lost():
    assert over(["504 calculus 1"], ["504 missing"]).lost == ()


def test_a_tooth_that_came_back_is_called_out_and_not_lost():
    found = over(["404 surgical extraction"], ["404 calculus 1"])
    assert [each.tooth for each in found.contradictions] == [404]
    assert found.lost == ()


def test_means_of_an_index_stand_beside_each_other_on_one_scale_only():
    found = progression(
        visits(
            chart("208 calculus 2", index_scale=3),
            chart("208 calculus 3", "104 calculus 4"),
            chart("208 gingivitis 1"),
        )
    )
    assert [(each.kind, each.scale, index_words(each)) for each in found.indices] == [
        ("calculus", 3, ["2.0 (1)", "–", "–"]),
        ("calculus", 4, ["–", "3.5 (2)", "–"]),
        ("gingivitis", 4, ["–", "–", "1.0 (1)"]),
    ]


def test_stages_at_each_visit():
    found = over(["208 gingivitis 1"], ["208 furcation 3"])
    assert tooth_stages(found, 208).split(", ")[1] == "PD4"
    assert [stage_words(each) for each in found.stages][1] == "PD4 1"


def test_of_many_visits_the_first_and_the_last_depths_are_written():
    assert figures([3, None, 5]) == ["3", "–", "5"]
    assert figures([9.0] + [2.5] * 20) == ["9", "…", *["2.5"] * 6]


def test_bars_rise_with_the_depth_and_a_dot_is_a_gap():
    assert bars(site(1, None, 4, 12, 0)) == "▁·▄█▁"


def test_no_visit_and_two_species_are_refused():
    with pytest.raises(DictateError, match="no visit"):
        progression([])
    with pytest.raises(DictateError, match="two species"):
        progression(visits(chart(), chart(species="cat")))


some_depths = st.lists(st.one_of(st.none(), st.integers(0, 12)), min_size=1, max_size=6)


@settings(deadline=None, max_examples=30)
@given(some_depths)
def test_nothing_is_ever_filled_in(depths):
    """The measured values are those of `series`, visit by visit, and gaps stay gaps."""
    phrases = (["208 calculus 1"] if d is None else [f"208 pocket {d} mesial"] for d in depths)
    made = visits(*(chart(*each) for each in phrases))
    found = progression(made)
    assert [each.depths for each in found.sites] == (
        [tuple(depths)] if any(d is not None for d in depths) else []
    )
    assert [[mm for _, mm in each.points] for each in series(made)] == [
        list(each.measured) for each in found.sites
    ]


@settings(deadline=None, max_examples=30)
@given(some_depths, st.randoms())
def test_the_order_in_which_visits_come_does_not_matter(depths, random):
    made = visits(*(chart(*([] if d is None else [f"208 pocket {d} mesial"])) for d in depths))
    mixed = list(made)
    random.shuffle(mixed)
    assert progression(mixed) == progression(made)


@given(st.lists(st.one_of(st.none(), st.integers(0, 12)), min_size=2).filter(any))
def test_a_change_of_less_than_two_millimetres_is_never_told(depths):
    measured = [each for each in depths if each is not None]
    one = site(*depths)
    moved = len(measured) > 1 and (
        abs(measured[-1] - measured[0]) >= 2 or abs(measured[-1] - measured[-2]) >= 2
    )
    assert one.changed == moved
    assert ("deeper" in change_words(one) or "less deep" in change_words(one)) == moved
