"""The grades that the published tables have, and those that they have not."""

import pytest

from dictate.assessment.attachment import attachment
from dictate.assessment.staging import stage_of, stage_rows
from dictate.assessment.summary import index_mean
from dictate.chart.anatomy import anatomy_of
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation
from dictate.chart.observation_rules import objection_to_observation
from dictate.chart.rules import objection_to_finding
from tests.test_assessment_attachment import charted, finding

INDICES = ("calculus", "plaque", "gingivitis")


def refused(*row, species="dog", index_scale=4):
    chart = charted(species, index_scale=index_scale)
    objection = objection_to_finding(chart, finding(*row))
    return objection is not None and objection.verdict == "impossible"


def stage(*rows, species="dog", tooth=208):
    return stage_of(charted(species, *rows), tooth).stage


# Source: AVDC nomenclature, Periodontal Disease: PD2 under 25 %, PD3 25 to 50 %, PD4 over 50 %.


@pytest.mark.parametrize(
    ("percent", "expected"),
    [(0.5, 2), (24, 2), (24.9, 2), (25, 3), (25.1, 3), (50, 3), (50.1, 4), (51, 4)],
)
def test_the_bounds_between_stages_by_percentage(percent, expected):
    loss_mm = 60 * percent / 100
    rows = [(208, "recession", loss_mm, "mesial"), (208, "pocket", 0, "mesial")]
    assert stage(*rows, (208, "root_length", 60)) == expected


@pytest.mark.parametrize(("percent", "furcation"), [(24, 2), (24, 3), (50, 3)])
def test_a_furcation_can_make_a_graver_stage_than_the_percentage(percent, furcation):
    rows = [(208, "horizontal_bone_loss", percent), (208, "furcation", furcation)]
    assert stage(*rows) == {2: 3, 3: 4}[furcation]


@pytest.mark.parametrize(("percent", "expected"), [(25, 3), (51, 4)])
def test_a_percentage_can_make_a_graver_stage_than_the_furcation(percent, expected):
    assert stage((208, "horizontal_bone_loss", percent), (208, "furcation", 1)) == expected


def test_the_stages_are_0_to_4():
    assert [row.stage for row in stage_rows()] == [0, 1, 2, 3, 4]


# Source: AVDC nomenclature, Periodontal Disease: furcation stages 1 to 3.


@pytest.mark.parametrize("grade", [1, 2, 3])
def test_furcation_stages_1_to_3_are_charted(grade):
    assert not refused(208, "furcation", grade)


@pytest.mark.parametrize("grade", [0, 4, 1.5])
def test_there_is_no_other_furcation_stage(grade):
    assert refused(208, "furcation", grade)


@pytest.mark.parametrize(("species", "tooth"), [("dog", 104), ("dog", 205), ("cat", 304)])
def test_a_tooth_with_one_root_has_no_furcation(species, tooth):
    # Source: roots, dog: common practice; cat: Bellows, Feline Dentistry.
    assert refused(tooth, "furcation", 1, species=species)


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_every_tooth_with_more_roots_may_have_one(species):
    anatomy = anatomy_of(species)
    many = [tooth for tooth in anatomy.permanent_teeth if max(anatomy.root_counts(tooth)) > 1]
    assert many
    assert not any(refused(tooth, "furcation", 1, species=species) for tooth in many)


# Source: AVDC nomenclature, Periodontal Disease: mobility stages 0 to 3; it stages no disease.


@pytest.mark.parametrize("grade", [0, 1, 2, 3])
def test_mobility_stages_0_to_3_are_charted(grade):
    assert not refused(208, "mobility", grade)


@pytest.mark.parametrize("grade", [-1, 4, 0.5])
def test_there_is_no_other_mobility_stage(grade):
    assert refused(208, "mobility", grade)


@pytest.mark.parametrize("grade", [0, 1, 2, 3])
def test_mobility_does_not_change_the_periodontal_stage(grade):
    rows = [(208, "horizontal_bone_loss", 30)]
    assert stage(*rows, (208, "mobility", grade)) == stage(*rows)


# Source: Logan and Boyce 1994 and Loe and Silness 1963: 0 to 3; 0 to 4: common practice, no source.


@pytest.mark.parametrize("kind", INDICES)
@pytest.mark.parametrize("index_scale", [3, 4])
def test_an_index_goes_up_to_the_scale_of_the_record(kind, index_scale):
    taken = [
        grade for grade in range(-1, 6) if not refused(208, kind, grade, index_scale=index_scale)
    ]
    assert taken == list(range(index_scale + 1))


@pytest.mark.parametrize("kind", ["general_calculus", "general_gingivitis"])
@pytest.mark.parametrize("index_scale", [3, 4])
def test_a_general_grade_goes_up_to_the_scale_of_the_record(kind, index_scale):
    chart = charted("dog", index_scale=index_scale)
    taken = [
        grade
        for grade in range(-1, 6)
        if objection_to_observation(chart, Observation(kind=kind, value=grade)) is None
    ]
    assert taken == list(range(index_scale + 1))


@pytest.mark.parametrize("index_scale", [3, 4])
def test_a_mean_states_its_scale(index_scale):
    chart = charted("dog", (208, "calculus", 3), (209, "calculus", 0), index_scale=index_scale)
    mean = index_mean(chart, "calculus")
    assert (mean.mean, mean.n) == (1.5, 2)
    assert f"scale 0-{index_scale}" in mean.sentence


@pytest.mark.parametrize(
    ("kind", "terms"),
    [
        # Source: AVDC nomenclature, Abnormalities of Teeth.
        ("resorption", {"1", "2", "3", "4", "4a", "4b", "4c", "5"}),
        ("resorption_type", {"1", "2", "3"}),
        ("wear", {"AB", "AT"}),
        ("fracture", {"FX", "EI", "EF", "UCF", "CCF", "UCRF", "CCRF", "RF"}),
    ],
)
def test_the_terms_of_a_finding_are_those_of_the_nomenclature(kind, terms):
    assert set(finding_kinds()[kind].terms) == terms


@pytest.mark.parametrize(
    ("depth", "recession", "enlargement", "loss"),
    [(4, 2, 0, 6), (7, 0, 3, 4), (3, 0, 5, 0), (0, 2, 0, 2)],
)
def test_total_attachment_loss(depth, recession, enlargement, loss):
    # Source: AVDC nomenclature, Periodontal Disease: depth plus recession, less enlargement.
    rows = [("pocket", depth), ("recession", recession), ("enlargement", enlargement)]
    chart = charted("dog", *((208, kind, mm, "mesial") for kind, mm in rows))
    assert attachment(chart, 208).sites[0].loss_mm == loss
