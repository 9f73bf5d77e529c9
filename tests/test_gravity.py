import pytest

from dictate.assessment.gravity import (
    GRAVITIES,
    gravity_of_finding,
    gravity_of_stage,
    gravity_on,
    gravity_rows,
    rank,
    tooth_state,
)
from dictate.assessment.staging import stage_of
from dictate.chart.anatomy import anatomy_of
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from tests.screen_pilot import session_of

NO_GRAVITY = {
    "missing", "root_length", "normal", "radiographed", "extracted", "sutured", "root_planed",
    "restored", "referred", "scaled", "polished", "probed",
}  # fmt: skip
"""What is a state of its own, a measure of the tooth, or what was done to it."""


def gravity(kind, value=None, species="dog"):
    finding = Finding(tooth=208, kind=kind, value=value)
    return gravity_of_finding(anatomy_of(species), finding)


def test_every_kind_of_finding_has_a_gravity_or_is_known_to_have_none():
    assert set(gravity_rows()) == set(finding_kinds()) - NO_GRAVITY


def test_every_row_says_in_one_way_how_grave_its_kind_is():
    for kind, row in gravity_rows().items():
        terms = bool(row.minor or row.moderate or row.severe)
        ways = (bool(row.over), terms, row.always is not None, row.staged is not None)
        assert sum(ways) == 1, kind
        assert list(row.over) == sorted(row.over), kind
        assert row.source, kind


def test_every_term_has_a_gravity_and_no_other():
    for kind, row in gravity_rows().items():
        named = (*row.minor, *row.moderate, *row.severe)
        if named:
            assert sorted(named) == sorted(finding_kinds()[kind].terms), kind


@pytest.mark.parametrize(
    "species, depths",
    [
        ("dog", {3: None, 3.5: "minor", 4: "minor", 5: "moderate", 6: "moderate", 7: "severe"}),
        ("cat", {1: None, 1.5: "minor", 2: "minor", 3: "moderate", 4: "moderate", 5: "severe"}),
    ],
)
def test_a_depth_counts_from_the_deepest_normal_sulcus(species, depths):
    """Normal sulcus 1-3 mm in dogs, 0.5-1 mm in cats: common practice; the scale is our own."""
    assert {depth: gravity("pocket", depth, species) for depth in depths} == depths


def test_a_furcation_is_as_grave_as_the_stage_that_it_makes():
    """Furcation 1, 2, 3: at least PD2, PD3, PD4. AVDC nomenclature, Periodontal Disease."""
    assert [gravity("furcation", stage) for stage in (1, 2, 3)] == list(GRAVITIES)


def test_bone_loss_is_as_grave_as_the_stage_that_it_makes():
    """Under 25 %, 25-50 %, over 50 %: PD2, PD3, PD4. AVDC nomenclature, Periodontal Disease."""
    percents = (0, 10, 30, 60)
    assert [gravity("horizontal_bone_loss", each) for each in percents] == [None, *GRAVITIES]


def test_a_fracture_that_exposes_the_pulp_is_severe():
    """Complicated fractures expose the pulp: AVDC nomenclature, Abnormalities of Teeth."""
    assert gravity("fracture", "UCF") == "moderate"
    assert gravity("fracture", "CCF") == gravity("fracture", "CCRF") == "severe"


@pytest.mark.parametrize("kind", ["mobility", "gingivitis", "calculus", "plaque", "recession"])
def test_a_grade_of_nought_has_no_gravity_and_more_is_never_less_grave(kind):
    ranks = [rank(gravity(kind, value)) for value in range(4)]
    assert ranks[0] == 0 < ranks[1]
    assert ranks == sorted(ranks)


def test_stages_have_the_gravity_of_their_titles():
    """PD0 normal to PD4 advanced: AVDC nomenclature, Periodontal Disease."""
    assert [gravity_of_stage(stage) for stage in range(5)] == [
        None, "minor", "minor", "moderate", "severe",
    ]  # fmt: skip


def test_a_stage_that_is_graver_than_the_findings_makes_the_gravity():
    phrases = ["208 pocket 5 mesial", "go to radiographs", "208 root length 8"]
    chart = session_of(phrases=phrases).chart
    assert stage_of(chart, 208).stage == 4
    assert gravity_on(chart, 208) == "severe"


@pytest.mark.parametrize(
    "phrases, state",
    [
        ([], "untouched"),
        (["208", "skip"], "skipped"),
        (["208", "skip", "208 normal"], "normal"),
        (["208 probing buccal 2 3 2"], "normal"),
        (["208 calculus 1"], "minor"),
        (["208 mobility 2 calculus 1"], "moderate"),
        (["208 CCF"], "severe"),
        (["208 missing"], "missing"),
        (["go to radiographs", "208 periapical lucency"], "untouched"),
        (["208 CCF", "go to treatment", "208 extracted"], "extracted"),
    ],
)
def test_the_state_of_a_tooth(phrases, state):
    assert tooth_state(session_of(phrases=phrases).chart, 208) == state
