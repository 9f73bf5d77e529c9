import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.completeness import SIX_SITES, Required, whats_left
from dictate.chart.chart import Chart
from dictate.chart.events import Skipped
from dictate.chart.finding import SITES, same_place
from tests.test_assessment_attachment import charted

SIX_ON_A_LOWER_TOOTH = [
    "mesiobuccal",
    "buccal",
    "distobuccal",
    "mesiolingual",
    "lingual",
    "distolingual",
]


def examined(tooth, sites=tuple(SIX_ON_A_LOWER_TOOTH)):
    rows = [(tooth, "calculus", 1), (tooth, "gingivitis", 0), (tooth, "mobility", 0)]
    return [*rows, *((tooth, "pocket", 2, site) for site in sites)]


def left_on(tooth, *rows, required=None):
    return whats_left(charted("dog", *rows), [tooth], required)


@pytest.mark.parametrize(("species", "teeth"), [("dog", 42), ("cat", 30)])
def test_of_a_blank_chart_every_permanent_tooth_is_left(species, teeth):
    # Source: modified Triadan system, Floyd 1991.
    assert len(whats_left(charted(species)).not_examined) == teeth


def test_the_six_sites_are_three_on_each_side():
    # Source: three sites on the cheek side, three on the other: common practice, no source.
    assert {same_place(site) for site in SITES} - set(SIX_SITES) == {"mesial", "distal"}


def test_a_tooth_with_six_depths_indices_and_mobility_is_done():
    assert left_on(308, *examined(308)).complete


def test_lingual_and_labial_names_fill_the_same_sites():
    # Source: AVDC nomenclature, Anatomy: one side has several names.
    sites = [site.replace("buccal", "labial") for site in SIX_ON_A_LOWER_TOOTH]
    assert left_on(304, *examined(304, sites)).complete


def test_the_sites_without_a_depth_are_named():
    (left,) = left_on(308, *examined(308, SIX_ON_A_LOWER_TOOTH[:4])).begun
    assert left.sites_not_probed == ("palatal", "distopalatal")


def test_a_depth_without_a_site_fills_no_site():
    (left,) = left_on(308, *examined(308, [None])).begun
    assert left.sites_not_probed == SIX_SITES


def test_one_depth_anywhere_will_do_where_no_site_is_required():
    assert left_on(308, *examined(308, [None]), required=Required(sites_required=())).complete


@pytest.mark.parametrize("kind", ["calculus", "gingivitis", "mobility"])
def test_what_was_not_graded_is_lacking(kind):
    rows = [row for row in examined(308) if row[1] != kind]
    assert left_on(308, *rows).lacking(kind) == (308,)


@pytest.mark.parametrize("kind", ["missing", "normal", "unerupted"])
def test_a_statement_for_the_whole_tooth_is_enough(kind):
    assert left_on(308, (308, kind)).complete


def test_a_skipped_tooth_is_left():
    chart = Chart(species="dog", index_scale=4).after(Skipped(tooth=308))
    left = whats_left(chart, [309, 308])
    assert (left.not_examined, left.skipped) == ((309, 308), (308,))


def test_a_tooth_that_was_skipped_and_then_examined_is_done():
    chart = charted("dog", *examined(308)).after(Skipped(tooth=308))
    assert whats_left(chart, [308]).complete


def test_a_deciduous_tooth_that_was_begun_is_asked_for_too():
    assert 504 in whats_left(charted("dog", (504, "calculus", 1))).lacking("mobility")


def test_what_is_left_is_said_in_one_sentence():
    left = whats_left(charted("dog", (308, "missing"), (309, "calculus", 2)), [308, 309, 408])
    assert left.sentence == (
        "Left: 408 not examined; probing depths on 309; gingivitis on 309; mobility on 309."
    )


def test_many_teeth_are_counted_not_listed():
    teeth = charted("cat").anatomy.permanent_teeth
    sentence = whats_left(charted("cat"), teeth).sentence
    assert sentence == "Left: 30 teeth (first 109, last 409) not examined."


def test_up_to_three_teeth_are_named():
    assert whats_left(charted("dog"), [308, 309, 310]).sentence == (
        "Left: 310, 309, 308 not examined."
    )
    assert whats_left(charted("dog"), [308, 309, 310, 311]).sentence == (
        "Left: 4 teeth (first 311, last 308) not examined."
    )


def test_of_teeth_that_are_named_no_other_is_left():
    chart = charted("dog", (308, "missing"), (408, "calculus", 1))
    assert whats_left(chart, [308]).complete


def test_nothing_left_is_said_too():
    assert left_on(308, (308, "missing")).sentence.startswith("Nothing is left")


done = st.sampled_from(["missing", "normal", "unerupted"])


@given(st.lists(done, min_size=30, max_size=30))
def test_a_mouth_is_complete_only_when_every_tooth_is_done(statements):
    teeth = charted("cat").anatomy.permanent_teeth
    rows = list(zip(teeth, statements, strict=True))
    assert whats_left(charted("cat", *rows), teeth).complete
    assert not whats_left(charted("cat", *rows[1:]), teeth).complete
