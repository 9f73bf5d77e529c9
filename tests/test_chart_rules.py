"""What the chart answers when something cannot be, or must be asked, word for word."""

import pytest

from dictate.chart.anatomy import CORNER_NAMES, anatomy_of, corner, tooth_kind, tooth_name
from dictate.chart.chart import Chart
from dictate.chart.events import Charted
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.rules import Objection, displaced_by, objection_to_finding, objection_to_tooth

DOG = Chart(species="dog", index_scale=4)
CAT = Chart(species="cat", index_scale=4)


def finding(tooth: int, kind: str, value=None, site=None) -> Finding:
    unit = finding_kinds()[kind].unit if kind in finding_kinds() else None
    return Finding(tooth=tooth, kind=kind, value=value, unit=unit, site=site)


def carrying(*findings: Finding, on: Chart = DOG) -> Chart:
    return on.after(Charted(findings=findings))


def impossible(rule: str, sentence: str) -> Objection:
    return Objection("impossible", rule, sentence)


def test_a_tooth_that_the_species_lacks_is_impossible_and_named():
    assert objection_to_tooth(CAT, 205) == impossible("dentition", "A cat has no 205.")
    assert objection_to_finding(CAT, finding(205, "calculus", 1)) == impossible(
        "dentition", "A cat has no 205."
    )


@pytest.mark.parametrize(
    ("wrong", "rule", "sentence"),
    [
        (finding(208, "tusk"), "finding", "There is no finding called tusk."),
        (finding(208, "calculus", 5), "range", "Calculus index takes 0 to 4, not 5."),
        (finding(208, "missing", 1), "range", "Missing takes no value, not 1."),
        (
            finding(208, "horizontal_bone_loss", 101),
            "range",
            "Horizontal bone loss takes 0 to 100 %, not 101.",
        ),
        (
            finding(208, "radiographed", "blurred"),
            "range",
            "Radiographed takes one of taken, normal, not blurred.",
        ),
        (
            finding(208, "calculus", 1, "mesial"),
            "site",
            "Calculus index is charted for the whole tooth.",
        ),
        (
            finding(208, "pocket", 3, "apical"),
            "site",
            "A tooth has no place called apical.",
        ),
        (
            finding(308, "pocket", 3, "palatal"),
            "site",
            "308 is a lower tooth and has no palatal side.",
        ),
        (
            finding(204, "furcation", 1),
            "roots",
            "204 has one root, so it has no furcation.",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence_that_says_why(wrong, rule, sentence):
    assert objection_to_finding(DOG, wrong) == impossible(rule, sentence)


@pytest.mark.parametrize("depth_mm", [0, 0.5, 2.5, 5])
def test_a_depth_is_charted_in_whole_and_half_millimetres(depth_mm):
    assert objection_to_finding(DOG, finding(208, "pocket", depth_mm, "mesial")) is None


@pytest.mark.parametrize("percent", [0, 30, 100])
def test_bone_loss_is_charted_in_whole_percent(percent):
    # Source: AVDC nomenclature, Periodontal Disease: loss relative to the length of the root.
    assert objection_to_finding(DOG, finding(208, "horizontal_bone_loss", percent)) is None
    half = finding(208, "horizontal_bone_loss", percent - 0.5)
    assert objection_to_finding(DOG, half).rule == "range"


def test_the_range_of_an_index_is_that_of_the_record():
    three = Chart(species="dog", index_scale=3)
    assert objection_to_finding(three, finding(208, "calculus", 4)) == impossible(
        "range", "Calculus index takes 0 to 3, not 4."
    )


def test_a_missing_tooth_and_one_with_findings_exclude_each_other():
    gone, found = finding(208, "missing"), finding(208, "calculus", 2)
    assert objection_to_finding(carrying(gone), found) == impossible(
        "missing", "208 is charted missing: it takes no findings."
    )
    assert objection_to_finding(carrying(found), gone) == impossible(
        "missing", "208 carries findings, so it is not missing."
    )


@pytest.mark.parametrize("kind", ["unerupted", "retained_root"])
def test_what_lies_in_the_jaw_may_stand_beside_missing(kind):
    # Source: AVDC nomenclature, Abnormalities of Teeth: no crown in the mouth.
    assert objection_to_finding(carrying(finding(208, "missing")), finding(208, kind)) is None
    assert objection_to_finding(carrying(finding(208, kind)), finding(208, "missing")) is None


def test_what_is_done_to_a_root_may_stand_on_a_missing_tooth_only_where_one_is_left():
    done = finding(208, "extracted", next(iter(finding_kinds()["extracted"].terms)))
    gone, root = finding(208, "missing"), finding(208, "retained_root")
    assert objection_to_finding(carrying(gone), done).rule == "missing"
    assert objection_to_finding(carrying(gone, root), done) is None
    assert objection_to_finding(carrying(root, done), gone) is None


def test_normal_is_refused_beside_findings_of_the_same_part_of_the_visit():
    deep = carrying(finding(208, "pocket", 6, "mesial"))
    assert objection_to_finding(deep, finding(208, "normal")) == impossible(
        "normal", "208 carries findings, so it is not normal."
    )
    lost = carrying(finding(208, "horizontal_bone_loss", 30))
    assert objection_to_finding(lost, finding(208, "radiographed", "normal")) == impossible(
        "normal", "208 carries findings, so it is not normal on the radiograph."
    )
    assert objection_to_finding(lost, finding(208, "normal")) is None
    assert objection_to_finding(deep, finding(208, "radiographed", "normal")) is None


@pytest.mark.parametrize("kind", ["unerupted", "retained_root"])
def test_a_radiograph_that_shows_a_tooth_or_a_root_in_the_jaw_is_not_normal(kind):
    normal = finding(208, "radiographed", "normal")
    in_the_jaw = carrying(finding(208, kind))
    assert objection_to_finding(in_the_jaw, normal) == impossible(
        "normal", "208 carries findings, so it is not normal on the radiograph."
    )


def test_the_length_of_a_root_is_no_finding_against_normal():
    normal, length = finding(208, "radiographed", "normal"), finding(208, "root_length", 14)
    assert objection_to_finding(carrying(length), normal) is None
    assert objection_to_finding(carrying(normal), length) is None
    assert displaced_by(carrying(normal), length) == ()


def test_a_radiograph_taken_speaks_against_nothing():
    taken, loss = finding(208, "radiographed", "taken"), finding(208, "horizontal_bone_loss", 30)
    assert objection_to_finding(carrying(loss), taken) is None
    assert objection_to_finding(carrying(taken), loss) is None


def test_a_finding_on_a_tooth_charted_normal_is_asked_about_and_then_takes_its_place():
    normal, deep = finding(208, "normal"), finding(208, "pocket", 6, "mesial")
    chart = carrying(normal)
    assert objection_to_finding(chart, deep) == Objection(
        "ask", "normal", "208 was charted normal. pocket 6 mm mesial?"
    )
    assert objection_to_finding(chart, deep, correcting=True) is None
    assert displaced_by(chart, deep) == (normal,)


def test_another_value_at_the_same_place_is_asked_about_unless_it_is_a_correction():
    chart = carrying(finding(208, "pocket", 3, "mesial"))
    deeper = finding(208, "pocket", 5, "mesial")
    assert objection_to_finding(chart, deeper) == Objection(
        "ask", "replace", "208 has pocket 3 mm mesial. Replace by pocket 5 mm mesial?"
    )
    assert objection_to_finding(chart, deeper, correcting=True) is None
    assert objection_to_finding(chart, finding(208, "pocket", 3, "mesial")) is None


def test_each_corner_of_the_mouth_holds_both_dentitions():
    # Source: modified Triadan system, Floyd 1991: 5 to 8 are the deciduous quadrants.
    names = {number: CORNER_NAMES[corner(number * 100 + 4)] for number in range(1, 9)}
    assert names == {
        **{1: "upper right", 2: "upper left", 3: "lower left", 4: "lower right"},
        **{5: "upper right", 6: "upper left", 7: "lower left", 8: "lower right"},
    }


def test_kinds_of_teeth_end_where_the_modified_triadan_system_ends_them():
    # Source: modified Triadan system, Floyd 1991.
    kinds = [tooth_kind(100 + place) for place in range(1, 12)]
    assert kinds == ["incisor"] * 3 + ["canine"] + ["premolar"] * 4 + ["molar"] * 3
    assert tooth_name(103) == "right maxillary third incisor"


def test_deciduous_teeth_have_roots_of_their_own():
    # Common practice, no source: the deciduous fourth premolar above is shaped like a molar.
    for species in ("dog", "cat"):
        anatomy = anatomy_of(species)
        for tooth in anatomy.deciduous_teeth:
            jaw = anatomy.deciduous_roots.upper if tooth < 700 else anatomy.deciduous_roots.lower
            assert anatomy.root_counts(tooth) == jaw.get(tooth % 100, (1,))
    assert anatomy_of("dog").deciduous_roots != anatomy_of("dog").roots
