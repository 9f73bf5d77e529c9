from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.chart.anatomy import anatomy_of, is_upper, tooth_name
from dictate.chart.chart import Chart, fold
from dictate.chart.events import Charted, Event, ToothChosen, Undone
from dictate.chart.finding import SITES, Finding, same_place
from dictate.chart.kinds import finding_kinds
from dictate.chart.plan import neighbour
from dictate.chart.rules import objection_to_finding, objection_to_tooth

DOG = Chart(species="dog", index_scale=4)
CAT = Chart(species="cat", index_scale=4)


def finding(tooth: int, kind: str, value=None, site=None) -> Finding:
    unit = finding_kinds()[kind].unit
    return Finding(tooth=tooth, kind=kind, value=value, unit=unit, site=site)


def with_findings(chart: Chart, *findings: Finding) -> Chart:
    return chart.after(Charted(findings=findings))


def rule_against(chart: Chart, of: Finding) -> str | None:
    objection = objection_to_finding(chart, of)
    return objection.rule if objection else None


@pytest.mark.parametrize(("species", "permanent", "deciduous"), [("dog", 42, 28), ("cat", 30, 26)])
def test_the_number_of_teeth_is_that_of_the_published_formulae(species, permanent, deciduous):
    # Source: modified Triadan system, Floyd 1991.
    anatomy = anatomy_of(species)
    assert len(set(anatomy.permanent_teeth)) == permanent
    assert len(set(anatomy.deciduous_teeth)) == deciduous


@pytest.mark.parametrize("tooth", [105, 205, 305, 405, 306, 406, 110, 210, 310, 410, 411])
def test_a_cat_lacks_the_teeth_that_the_modified_triadan_system_leaves_out(tooth):
    # Source: modified Triadan system, Floyd 1991.
    assert objection_to_tooth(CAT, tooth) is not None
    assert objection_to_tooth(DOG, tooth) is None


@pytest.mark.parametrize("tooth", [0, 100, 111, 211, 112, 505, 605, 905, 1104])
def test_no_dog_has_such_a_tooth(tooth):
    assert objection_to_tooth(DOG, tooth) is not None


def test_the_canine_is_x04_and_the_first_molar_x09():
    # Rule of four and nine: common practice, no source.
    assert {tooth_name(q * 100 + 4).split()[-1] for q in range(1, 5)} == {"canine"}
    assert all(tooth_name(q * 100 + 9).endswith("first molar") for q in range(1, 5))


@pytest.mark.parametrize(
    ("tooth", "name"),
    [
        (108, "right maxillary fourth premolar"),
        (204, "left maxillary canine"),
        (309, "left mandibular first molar"),
        (401, "right mandibular first incisor"),
        (504, "right maxillary deciduous canine"),
    ],
)
def test_teeth_have_names(tooth, name):
    assert tooth_name(tooth) == name


@pytest.mark.parametrize(
    ("roots", "teeth"),
    [
        # Source: common practice, no source.
        (1, [101, 204, 305, 105, 311, 411]),
        (2, [106, 107, 206, 207, 306, 307, 308, 406, 407, 408, 309, 310, 409, 410]),
        (3, [108, 109, 110, 208, 209, 210]),
    ],
)
def test_a_dogs_teeth_have_their_roots(roots, teeth):
    assert {anatomy_of("dog").root_counts(tooth) for tooth in teeth} == {(roots,)}


@pytest.mark.parametrize(
    ("tooth", "roots"),
    [(104, (1,)), (106, (1, 2)), (107, (2,)), (208, (3,)), (109, (1, 2)), (307, (2,)), (409, (2,))],
)
def test_a_cats_teeth_have_their_roots(tooth, roots):
    # Source: Bellows, Feline Dentistry.
    assert anatomy_of("cat").root_counts(tooth) == roots


@pytest.mark.parametrize("tooth", [104, 201, 305, 411])
def test_a_tooth_with_one_root_has_no_furcation(tooth):
    # Source: AVDC nomenclature, Periodontal Disease: only multi-rooted teeth have furcations.
    assert rule_against(DOG, finding(tooth, "furcation", 1)) == "roots"


@pytest.mark.parametrize(
    ("kind", "highest"),
    [("furcation", 3), ("mobility", 3), ("calculus", 4), ("gingivitis", 4), ("pocket", 20)],
)
def test_a_value_beyond_its_range_cannot_be(kind, highest):
    # Source: AVDC nomenclature for stages; index scale 0-4 and 20 mm: common practice, no source.
    assert rule_against(DOG, finding(108, kind, highest)) is None
    assert rule_against(DOG, finding(108, kind, highest + 1)) == "range"
    assert rule_against(DOG, finding(108, kind, -1)) == "range"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, None, "two", 1.5])
def test_a_grade_is_a_whole_number(value):
    bad = Finding.model_construct(tooth=108, kind="calculus", value=value, unit=None, site=None)
    assert rule_against(DOG, bad) == "range"


def test_an_index_scale_to_three_refuses_four():
    # Source: Logan and Boyce 1994: calculus index 0-3.
    assert rule_against(Chart(species="dog", index_scale=3), finding(108, "calculus", 4)) == "range"


@pytest.mark.parametrize("stage", [1, 2, 3, 4, "4a", "4b", "4c", 5])
def test_the_stages_of_tooth_resorption_are_those_of_the_nomenclature(stage):
    # Source: AVDC nomenclature, Abnormalities of Teeth.
    assert rule_against(CAT, finding(307, "resorption", stage)) is None


@pytest.mark.parametrize("stage", [0, 6, "5a", None])
def test_there_are_no_other_stages_of_tooth_resorption(stage):
    assert rule_against(CAT, finding(307, "resorption", stage)) == "range"


def test_the_seven_fracture_classes_are_those_of_the_nomenclature():
    # Source: AVDC nomenclature, Abnormalities of Teeth.
    terms = set(finding_kinds()["fracture"].terms) - {"FX"}
    assert terms == {"EI", "EF", "UCF", "CCF", "UCRF", "CCRF", "RF"}


def test_a_missing_tooth_takes_no_finding_but_a_retained_root():
    chart = with_findings(DOG, finding(208, "missing"))
    assert rule_against(chart, finding(208, "calculus", 1)) == "missing"
    assert rule_against(chart, finding(208, "retained_root")) is None


def test_a_tooth_that_carries_findings_is_not_missing():
    chart = with_findings(DOG, finding(208, "calculus", 1))
    assert rule_against(chart, finding(208, "missing")) == "missing"


def test_a_tooth_charted_normal_is_asked_about_before_it_is_not():
    chart = with_findings(DOG, finding(208, "normal"))
    for contradicting in (finding(208, "missing"), finding(208, "calculus", 1)):
        assert objection_to_finding(chart, contradicting).verdict == "ask"


def test_a_lower_tooth_has_no_palatal_side():
    # Source: AVDC nomenclature, Anatomy.
    assert rule_against(DOG, finding(308, "pocket", 3, "palatal")) == "site"
    assert rule_against(DOG, finding(208, "pocket", 3, "distopalatal")) is None


@pytest.mark.parametrize(("kind", "site"), [("calculus", "mesial"), ("pocket", "banana")])
def test_a_site_that_is_none_of_the_kinds_is_refused(kind, site):
    assert rule_against(DOG, finding(208, kind, 1, site)) == "site"


def test_two_names_of_one_side_are_one_place():
    # Source: AVDC nomenclature, Anatomy: lingual may be said of both jaws.
    assert same_place("lingual") == same_place("palatal")
    assert same_place("mesiolabial") == same_place("mesiobuccal")
    assert len({same_place(site) for site in SITES}) == 8


def test_a_second_value_for_the_same_place_is_asked_about():
    chart = with_findings(DOG, finding(208, "pocket", 5, "mesial"))
    assert rule_against(chart, finding(208, "pocket", 6, "mesial")) == "replace"
    assert rule_against(chart, finding(208, "pocket", 6, "distal")) is None
    assert rule_against(chart, finding(208, "pocket", 5, "mesial")) is None


def test_a_fracture_class_may_follow_a_fracture_without_one():
    chart = with_findings(DOG, finding(208, "fracture", "FX"))
    assert rule_against(chart, finding(208, "fracture", "CCF")) is None


def test_next_tooth_goes_from_the_upper_right_to_the_lower_right():
    assert neighbour(DOG, 110, 1) == 109
    assert neighbour(DOG, 101, 1) == 201
    assert neighbour(DOG, 210, 1) == 311
    assert neighbour(DOG, 411, 1) is None
    assert neighbour(CAT, 104, -1) == 106


def test_every_kind_of_finding_names_its_source():
    assert all(row.source for row in finding_kinds().values())


def event(number: int, what) -> Event:
    return Event(
        sequence=number, utterance=number, time=datetime(2026, 5, 4, tzinfo=UTC), what=what
    )


upper_teeth = st.sampled_from([t for t in DOG.anatomy.permanent_teeth if is_upper(t)])
gradings = st.builds(
    lambda tooth, kind, value: finding(tooth, kind, value),
    upper_teeth,
    st.sampled_from(["calculus", "plaque", "gingivitis", "mobility"]),
    st.integers(0, 3),
)


@given(st.lists(gradings, max_size=12, unique_by=lambda each: each.place), st.randoms())
def test_any_order_of_the_same_findings_gives_the_same_chart(findings, random):
    shuffled = list(findings)
    random.shuffle(shuffled)
    one = with_findings(DOG, *findings)
    other = with_findings(DOG, *shuffled)
    assert set(one.findings) == set(other.findings)


@given(st.lists(gradings, min_size=1, max_size=8))
def test_undo_after_anything_is_the_state_before_it(findings):
    events = [event(number, Charted(findings=(f,))) for number, f in enumerate(findings, start=1)]
    events.insert(0, events[0].model_copy(update={"what": ToothChosen(tooth=208)}))
    undone = event(len(events) + 1, Undone(of=events[-1].utterance))
    before = [each for each in events if each.utterance != events[-1].utterance]
    assert fold(DOG, [*events, undone]) == fold(DOG, before)
