import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.question_rules import MOUTH_RULES, TOOTH_RULES
from dictate.assessment.questions import question_rows, questions
from dictate.assessment.visit_question_rules import VISIT_RULES, VISIT_TOOTH_RULES
from tests.test_assessment_attachment import charted, place_of

AT_NORMAL_DEPTH = (208, "pocket", 2, "mesial")
POCKET = (208, "pocket", 6, "mesial")

ASKED = [
    # Source beside each rule: questions.toml, checked below to name one.
    ("furcation_at_normal_depth", [(208, "furcation", 3), AT_NORMAL_DEPTH]),
    ("furcation_without_bone_loss", [(208, "furcation", 2), (208, "horizontal_bone_loss", 0)]),
    ("mobility_without_loss", [(208, "mobility", 3), AT_NORMAL_DEPTH]),
    ("radiograph_against_probing", [POCKET, (208, "horizontal_bone_loss", 0)]),
    ("bone_loss_at_normal_depth", [AT_NORMAL_DEPTH, (208, "vertical_bone_loss", 30)]),
    ("bone_loss_at_normal_depth", [AT_NORMAL_DEPTH, (208, "vertical_bone_loss", 25)]),
    ("deeper_than_root", [(208, "pocket", 11, "mesial"), (208, "root_length", 10)]),
    ("deep_on_root", [(208, "pocket", 7, "mesial"), (208, "root_length", 10)]),
    ("margin_without_site", [POCKET, (208, "recession", 2)]),
    ("margin_without_site", [POCKET, (208, "enlargement", 2)]),
    (
        "recession_with_enlargement",
        [(208, "recession", 1, "buccal"), (208, "enlargement", 1, "labial")],
    ),
    ("enlargement_over_depth", [(208, "pocket", 2, "buccal"), (208, "enlargement", 5, "buccal")]),
    ("bleeding_against_index", [(208, "bleeding"), (208, "gingivitis", 1)]),
    ("retained_root_not_missing", [(208, "retained_root")]),
    ("pulp_exposure_unexplained", [(208, "pulp_exposure")]),
    ("pulp_exposed_uncomplicated", [(208, "pulp_exposure"), (208, "fracture", "UCF")]),
    ("complicated_without_radiograph", [(208, "fracture", "CCRF")]),
    ("fracture_class_open", [(208, "fracture", "FX")]),
    ("resorption_type_without_stage", [(208, "resorption_type", 2)]),
    ("lucency_unexplained", [(208, "periapical_lucency")]),
    ("no_deciduous_before", [(205, "persistent_deciduous")]),
    ("no_deciduous_before", [(209, "persistent_deciduous")]),
    ("persistent_yet_missing", [(204, "persistent_deciduous"), (604, "missing")]),
    ("deciduous_beside_permanent", [(204, "calculus", 1), (604, "calculus", 1)]),
    ("missing_with_findings", [(208, "unerupted"), (208, "calculus", 1)]),
    ("normal_with_findings", [(208, "normal"), (208, "calculus", 1)]),
    ("normal_against_radiograph", [(208, "normal"), (208, "horizontal_bone_loss", 1)]),
    ("normal_against_radiograph", [(208, "normal"), (208, "periapical_lucency")]),
    ("missing_with_findings", [(208, "missing"), (208, "draining_tract")]),
    ("no_such_tooth", [(211, "calculus", 1)]),
    ("fistula_on_lower_tooth", [(304, "oronasal_fistula")]),
    ("palatoversion_of_lower_tooth", [(304, "malposition", "PV")]),
    ("linguoversion_of_upper_tooth", [(204, "malposition", "LV")]),
    ("extracted_unexplained", [(208, "extracted", "XSS"), (208, "radiographed", "normal")]),
    ("extracted_unexplained", [(208, "extracted", "X"), (208, "normal")]),
    ("extracted_and_treated", [(208, "extracted", "X"), (208, "caries"), (208, "restored")]),
    ("extracted_with_root", [(208, "extracted", "EXT"), (208, "retained_root")]),
    ("extracted_with_root", [(208, "extracted", "EXT"), (208, "root_remnant")]),
    ("extracted_beside_deciduous", [(204, "extracted", "X"), (204, "persistent_deciduous")]),
]

FITTING = [
    ("furcation_without_bone_loss", [(208, "furcation", 1), (208, "horizontal_bone_loss", 0)]),
    *(
        ("mobility_without_loss", [(208, "mobility", 3), AT_NORMAL_DEPTH, cause])
        for cause in [
            (208, "resorption", 3),
            (208, "resorption_type", 1),
            (208, "periapical_lucency"),
            (208, "horizontal_bone_loss", 20),
        ]
    ),
    ("bone_loss_at_normal_depth", [AT_NORMAL_DEPTH, (208, "vertical_bone_loss", 24)]),
    ("deeper_than_root", [(208, "pocket", 10, "mesial"), (208, "root_length", 10)]),
    (
        "deep_on_root",
        [(208, "pocket", 7, "buccal"), (208, "enlargement", 5, "buccal"), (208, "root_length", 10)],
    ),
    ("margin_without_site", [POCKET, (208, "recession", 0)]),
    ("margin_without_site", [POCKET, (208, "recession", 2, "mesial")]),
    ("enlargement_over_depth", [(208, "pocket", 3, "buccal"), (208, "enlargement", 3, "buccal")]),
    ("enlargement_over_depth", [(208, "pocket", 0.5, "buccal")]),
    ("pulp_exposed_uncomplicated", [(208, "pulp_exposure")]),
    (
        "pulp_exposed_uncomplicated",
        [(208, "pulp_exposure"), (208, "fracture", "UCF"), (208, "wear", "AB")],
    ),
    ("fracture_class_open", [(208, "fracture", "FX"), (208, "pulp_exposure")]),
    ("lucency_unexplained", [(208, "missing"), (208, "periapical_lucency")]),
    ("lucency_unexplained", [(208, "root_remnant"), (208, "periapical_lucency")]),
    ("no_deciduous_before", [(209, "calculus", 1)]),
    ("persistent_yet_missing", [(204, "persistent_deciduous"), (604, "calculus", 1)]),
    ("persistent_yet_missing", [(204, "calculus", 1), (604, "missing")]),
    ("persistent_yet_missing", [(205, "persistent_deciduous")]),
    ("deciduous_beside_permanent", [(204, "calculus", 1), (604, "persistent_deciduous")]),
    ("furcation_at_normal_depth", [(208, "furcation", 3), POCKET]),
    (
        "furcation_at_normal_depth",
        [(208, "furcation", 3), AT_NORMAL_DEPTH, (208, "recession", 4, "buccal")],
    ),
    ("furcation_at_normal_depth", [(208, "furcation", 3)]),
    ("mobility_without_loss", [(208, "mobility", 3), POCKET]),
    ("mobility_without_loss", [(208, "mobility", 3), AT_NORMAL_DEPTH, (208, "fracture", "RF")]),
    ("mobility_without_loss", [(604, "mobility", 3), (604, "pocket", 1, "mesial")]),
    ("mobility_without_loss", [(208, "mobility", 2), AT_NORMAL_DEPTH]),
    ("deep_on_root", [(208, "pocket", 6, "mesial"), (208, "root_length", 9)]),
    ("margin_without_site", [(208, "pocket", 6), (208, "recession", 2)]),
    ("bleeding_against_index", [(208, "bleeding"), (208, "gingivitis", 2)]),
    ("retained_root_not_missing", [(208, "retained_root"), (208, "missing")]),
    ("retained_root_not_missing", [(208, "retained_root"), (208, "resorption", 5)]),
    ("pulp_exposure_unexplained", [(208, "pulp_exposure"), (208, "wear", "AB")]),
    ("pulp_exposed_uncomplicated", [(208, "pulp_exposure"), (208, "fracture", "CCF")]),
    ("complicated_without_radiograph", [(208, "fracture", "CCF"), (208, "root_length", 15)]),
    ("resorption_type_without_stage", [(208, "resorption_type", 2), (208, "resorption", "4a")]),
    ("lucency_unexplained", [(208, "periapical_lucency"), (208, "discolored")]),
    ("no_deciduous_before", [(204, "persistent_deciduous")]),
    (
        "deciduous_beside_permanent",
        [(204, "persistent_deciduous"), (604, "calculus", 1)],
    ),
    ("deciduous_beside_permanent", [(204, "unerupted"), (604, "calculus", 1)]),
    ("missing_with_findings", [(208, "missing"), (208, "retained_root")]),
    ("missing_with_findings", [(204, "unerupted"), (204, "persistent_deciduous")]),
    ("missing_with_findings", [(208, "missing"), (208, "root_remnant"), (208, "draining_tract")]),
    ("normal_against_radiograph", [(208, "normal"), (208, "horizontal_bone_loss", 0)]),
    (
        "normal_against_radiograph",
        [(208, "normal"), (208, "vertical_bone_loss", 9), (208, "probed")],
    ),
    ("normal_against_radiograph", [(208, "calculus", 1), (208, "vertical_bone_loss", 9)]),
    ("fistula_on_lower_tooth", [(204, "oronasal_fistula")]),
    ("palatoversion_of_lower_tooth", [(204, "malposition", "PV")]),
    ("linguoversion_of_upper_tooth", [(304, "malposition", "LV")]),
    ("extracted_unexplained", [(208, "extracted", "X"), (208, "mobility", 3)]),
    ("extracted_and_treated", [(208, "extracted", "X"), (208, "scaled"), (208, "sutured")]),
    ("extracted_with_root", [(208, "missing"), (208, "retained_root")]),
    ("extracted_beside_deciduous", [(604, "extracted", "X"), (204, "persistent_deciduous")]),
    ("retained_root_not_missing", [(208, "retained_root"), (208, "extracted", "EXT")]),
    ("fracture_class_open", [(208, "fracture", "FX"), (208, "extracted", "EXT")]),
    (
        "deciduous_beside_permanent",
        [(204, "calculus", 1), (604, "calculus", 1), (604, "extracted", "X")],
    ),
    ("deciduous_beside_permanent", [(204, "radiographed", "taken"), (604, "calculus", 1)]),
]


def rules(rows):
    return {each.rule for each in questions(charted("dog", *rows))}


@pytest.mark.parametrize(("rule", "rows"), ASKED)
def test_what_does_not_fit_together_is_asked(rule, rows):
    assert rule in rules(rows)


@pytest.mark.parametrize(("rule", "rows"), FITTING)
def test_what_fits_together_is_not_asked(rule, rows):
    assert rule not in rules(rows)


def test_every_rule_has_a_case_that_is_asked():
    assert {rule for rule, _ in ASKED} == set(question_rows()) - set(VISIT_RULES)


def test_every_row_has_a_rule_and_every_rule_a_row():
    rules_known = [*TOOTH_RULES, *MOUTH_RULES, *VISIT_TOOTH_RULES, *VISIT_RULES]
    assert sorted(question_rows()) == sorted(rules_known)


def test_every_question_names_its_source_and_asks():
    rows = question_rows().values()
    assert all(row.source and row.sentence.endswith("?") for row in rows)


def test_a_question_names_the_tooth_and_the_values():
    # Source: over two thirds of the root: common practice, no source.
    chart = charted("dog", (208, "pocket", 7, "mesial"), (208, "root_length", 10))
    (asked,) = questions(chart)
    assert asked.sentence == (
        "208 has a pocket of 7 mm on a root of 10 mm, over two thirds: is it so?"
    )


@pytest.mark.parametrize(
    ("rows", "rule", "sentence"),
    [
        (
            [(208, "normal"), (208, "gingivitis", 1), (208, "calculus", 1)],
            "normal_with_findings",
            "208 is charted normal, yet carries calculus 1, gingivitis 1: which holds?",
        ),
        (
            [(208, "pocket", 10.5, "mesial"), (208, "root_length", 10)],
            "deeper_than_root",
            "208 has a loss of 10.5 mm on a root of 10 mm: are both measured right?",
        ),
        (
            [(208, "pocket", 2, "buccal"), (208, "enlargement", 5, "buccal")],
            "enlargement_over_depth",
            "208 has 5 mm enlargement but 2 mm depth (buccal): is it so?",
        ),
        (
            [(204, "persistent_deciduous"), (604, "missing")],
            "persistent_yet_missing",
            "204 is charted with a persistent deciduous tooth, yet 604 is charted missing:"
            " is it there?",
        ),
        (
            [(204, "calculus", 1), (604, "calculus", 1)],
            "deciduous_beside_permanent",
            "604 is charted beside 204: is it a persistent deciduous tooth?",
        ),
        (
            [(208, "extracted", "X"), (208, "restored"), (208, "root_planed", "RP/C")],
            "extracted_and_treated",
            "208 is charted extracted, yet also restored, root planed RP/C: which holds?",
        ),
        (
            [(204, "extracted", "X"), (204, "persistent_deciduous")],
            "extracted_beside_deciduous",
            "204 is charted extracted and with a persistent deciduous tooth:"
            " was it 604 that was extracted?",
        ),
    ],
)
def test_a_question_says_what_does_not_fit_together(rows, rule, sentence):
    (asked,) = (each for each in questions(charted("dog", *rows)) if each.rule == rule)
    assert (asked.tooth, asked.sentence) == (rows[0][0], sentence)
    assert asked.source == question_rows()[rule].source


def test_a_normal_tooth_is_asked_about_with_what_its_radiograph_shows():
    rows = [(208, "normal"), (208, "vertical_bone_loss", 30), (208, "periapical_lucency")]
    (found,) = questions(charted("dog", *rows))
    assert found.sentence == (
        "208 is charted normal in the mouth, yet shows 30 % bone loss and a periapical lucency"
        " on the radiograph: was it probed all round?"
    )


def test_nothing_is_asked_about_a_sound_tooth():
    assert not questions(charted("dog", (208, "normal"), (308, "calculus", 1)))


rows_that_disagree = st.lists(
    st.sampled_from([row for _, rows in ASKED for row in rows]), max_size=12, unique_by=place_of
)


@given(rows_that_disagree, st.randoms())
def test_questions_do_not_depend_on_the_order_of_findings(rows, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert questions(charted("dog", *rows)) == questions(charted("dog", *shuffled))


@given(rows_that_disagree)
def test_asking_changes_no_finding(rows):
    chart = charted("dog", *rows)
    questions(chart)
    assert chart == charted("dog", *rows)
