import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.proposal_conditions import CONDITIONS
from dictate.assessment.proposals import ENDING, proposal_rows, proposals
from dictate.assessment.questions import questions
from dictate.chart.events import Observed
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation, observation_kinds
from tests.test_assessment_attachment import charted, place_of

MEASURED = (208, "root_length", 20)

# Source: WSAVA Global Dental Guidelines and AAHA Dental Care Guidelines 2019, from memory, as each
# row of proposals.toml says.
PROPOSED = [
    ("radiograph_missing", [(208, "missing")]),
    ("radiograph_first", [(208, "fracture", "UCF")]),
    ("radiograph_first", [(208, "pocket", 5, "mesial")]),
    ("radiograph_first", [(208, "mobility", 1)]),
    ("unerupted", [(208, "unerupted")]),
    ("root_with_disease", [(208, "retained_root"), (208, "draining_tract")]),
    ("root_quiet", [(208, "missing"), (208, "root_remnant")]),
    ("exposed_pulp", [(208, "pulp_exposure")]),
    ("exposed_pulp", [(208, "fracture", "CCF")]),
    ("exposed_pulp", [(208, "fracture", "CCRF")]),
    ("non_vital", [(208, "discolored")]),
    ("non_vital", [(208, "periapical_lucency")]),
    ("root_with_disease", [(208, "missing"), (208, "root_remnant"), (208, "periapical_lucency")]),
    ("root_with_disease", [(208, "missing"), (208, "retained_root"), (208, "draining_tract")]),
    ("deciduous_endodontic", [(608, "fracture", "CCF")]),
    ("deciduous_endodontic", [(608, "pulp_exposure")]),
    ("deciduous_endodontic", [(608, "discolored")]),
    ("deciduous_endodontic", [(608, "periapical_lucency")]),
    ("deciduous_endodontic", [(608, "draining_tract")]),
    ("root_fracture", [(208, "fracture", "RF")]),
    ("exposed_dentin", [(208, "fracture", "UCRF")]),
    ("exposed_dentin", [(208, "fracture", "EF")]),
    ("enamel_crack", [(208, "fracture", "EI")]),
    ("fracture_class", [(208, "fracture", "FX")]),
    ("resorption_untyped", [(208, "resorption", 3)]),
    ("resorption_type_1", [(208, "resorption", 3), (208, "resorption_type", 1)]),
    ("resorption_type_2", [(208, "resorption", 3), (208, "resorption_type", 2)]),
    ("resorption_type_2_diseased", [(208, "resorption_type", 2), (208, "periapical_lucency")]),
    ("resorption_type_2_diseased", [(208, "resorption_type", 2), (208, "furcation", 2)]),
    ("resorption_type_2_diseased", [(208, "resorption_type", 2), (208, "discolored")]),
    ("resorption_type_2_diseased", [(208, "resorption_type", 2), (208, "vertical_bone_loss", 20)]),
    ("resorption_type_3", [(208, "resorption_type", 3)]),
    ("resorption_remnants", [(208, "resorption", 5)]),
    ("resorption_remnants_diseased", [(208, "resorption", 5), (208, "periapical_lucency")]),
    ("resorption_remnants_diseased", [(208, "resorption", 5), (208, "draining_tract")]),
    ("periodontal_extraction", [(208, "horizontal_bone_loss", 51)]),
    ("periodontal_extraction", [(208, "mobility", 3), (208, "pocket", 5, "mesial")]),
    ("mobile_unexplained", [(208, "mobility", 3)]),
    ("deciduous_periodontal", [(608, "horizontal_bone_loss", 51)]),
    ("deciduous_mobile", [(608, "mobility", 1)]),
    ("normal_with_bone_loss", [(208, "normal"), (208, "horizontal_bone_loss", 30)]),
    ("normal_with_bone_loss", [(208, "normal"), (208, "vertical_bone_loss", 1)]),
    ("non_vital", [(208, "normal"), (208, "periapical_lucency")]),
    ("periodontal_extraction", [(208, "normal"), (208, "horizontal_bone_loss", 51)]),
    ("open_root_planing", [(208, "pocket", 5.5, "mesial"), MEASURED]),
    ("open_root_planing", [(208, "furcation", 2)]),
    ("closed_root_planing", [(208, "pocket", 5, "mesial"), MEASURED]),
    ("enlargement", [(208, "pocket", 6, "buccal"), (208, "enlargement", 4, "buccal")]),
    ("clean", [(208, "calculus", 1)]),
    ("clean", [(208, "bleeding")]),
    ("caries", [(208, "caries")]),
    ("enamel", [(208, "enamel_defect")]),
    ("enamel", [(208, "enamel_hypoplasia")]),
    ("wear", [(208, "wear", "AT")]),
    ("persistent_deciduous", [(204, "persistent_deciduous")]),
    ("supernumerary", [(208, "supernumerary"), (208, "crowding")]),
    ("oronasal_fistula", [(204, "oronasal_fistula")]),
    ("oronasal_fistula", [(204, "missing"), (204, "oronasal_fistula")]),
]

NOT_PROPOSED = [
    ("radiograph_missing", [(208, "missing"), (208, "root_remnant")]),
    ("radiograph_missing", [(208, "missing"), (208, "unerupted")]),
    ("radiograph_missing", [(208, "missing"), (208, "retained_root")]),
    ("radiograph_first", [(208, "fracture", "CCF"), MEASURED]),
    ("radiograph_first", [(208, "calculus", 3), (208, "gingivitis", 1)]),
    ("closed_root_planing", [(208, "pocket", 3, "mesial")]),
    ("closed_root_planing", [(208, "pocket", 5, "mesial"), (208, "furcation", 3)]),
    ("closed_root_planing", [(208, "pocket", 5, "mesial"), (208, "pocket", 6, "distal")]),
    ("closed_root_planing", [(208, "pocket", 5, "buccal"), (208, "enlargement", 3, "buccal")]),
    ("open_root_planing", [(208, "pocket", 8, "mesial"), (208, "root_length", 10)]),
    ("mobile_unexplained", [(604, "mobility", 3)]),
    ("mobile_unexplained", [(208, "mobility", 3), (208, "pocket", 5, "mesial")]),
    ("resorption_type_2", [(208, "resorption_type", 2), (208, "fracture", "CCF")]),
    ("resorption_untyped", [(208, "resorption", 5)]),
    ("resorption_remnants", [(208, "resorption", 5), (208, "draining_tract")]),
    ("resorption_remnants_diseased", [(208, "resorption", 5)]),
    ("deciduous_mobile", [(608, "mobility", 0)]),
    ("deciduous_mobile", [(208, "mobility", 1)]),
    ("deciduous_endodontic", [(608, "fracture", "UCF")]),
    ("deciduous_endodontic", [(208, "fracture", "CCF")]),
    ("normal_with_bone_loss", [(208, "normal"), (208, "horizontal_bone_loss", 0)]),
    ("normal_with_bone_loss", [(208, "normal"), (208, "horizontal_bone_loss", 51)]),
    ("normal_with_bone_loss", [(208, "calculus", 1), (208, "horizontal_bone_loss", 30)]),
    (
        "normal_with_bone_loss",
        [(208, "normal"), (208, "furcation", 2), (208, "vertical_bone_loss", 20)],
    ),
    (
        "normal_with_bone_loss",
        [(208, "normal"), (208, "pocket", 5, "mesial"), (208, "vertical_bone_loss", 20)],
    ),
    ("oronasal_fistula", [(304, "oronasal_fistula")]),
    ("root_quiet", [(208, "missing"), (208, "root_remnant"), (208, "periapical_lucency")]),
    ("non_vital", [(208, "discolored"), (208, "pulp_exposure")]),
    ("non_vital", [(208, "discolored"), (208, "resorption", 3)]),
    ("exposed_pulp", [(208, "pulp_exposure"), (208, "resorption", 4)]),
    ("exposed_pulp", [(208, "pulp_exposure"), (208, "resorption_type", 1)]),
    ("exposed_dentin", [(208, "fracture", "UCF"), (208, "pulp_exposure")]),
    ("resorption_type_2", [(208, "resorption_type", 2), (208, "discolored")]),
    ("clean", [(208, "calculus", 0), (208, "gingivitis", 0)]),
    ("wear", [(208, "wear", "AB"), (208, "pulp_exposure")]),
]


def rules(rows, species="dog"):
    return {each.rule for each in proposals(charted(species, *rows))}


@pytest.mark.parametrize(("rule", "rows"), PROPOSED)
def test_what_was_found_brings_a_proposal(rule, rows):
    assert rule in rules(rows)


@pytest.mark.parametrize(("rule", "rows"), NOT_PROPOSED)
def test_what_was_found_does_not_bring_that_proposal(rule, rows):
    assert rule not in rules(rows)


def test_every_rule_has_a_case():
    of_the_mouth = {"resorption_type_2_stomatitis"}  # has tests of its own below
    assert {rule for rule, _ in PROPOSED} | of_the_mouth == set(proposal_rows())


def test_every_row_has_a_condition_and_every_condition_a_row():
    assert {row.condition for row in proposal_rows().values()} == set(CONDITIONS)


def test_every_proposal_names_its_source():
    assert all(row.source for row in proposal_rows().values())


def test_a_proposal_leaves_the_decision_to_the_clinician():
    (first, *_) = proposals(charted("dog", (208, "fracture", "CCF"), MEASURED))
    assert first.text == (
        "Endodontic treatment or extraction to consider, as the pulp is exposed"
        ": for the clinician to decide."
    )


def test_a_proposal_carries_the_source_of_its_row():
    found = proposals(charted("dog", (208, "fracture", "CCF"), (208, "calculus", 2)))
    assert [each.source for each in found] == [proposal_rows()[each.rule].source for each in found]


def test_a_radiograph_is_proposed_before_anything_else_is_done():
    found = proposals(charted("dog", (208, "fracture", "CCF"), (208, "calculus", 2)))
    assert [each.rule for each in found] == ["radiograph_first", "exposed_pulp", "clean"]


@pytest.mark.parametrize("rows", [[], [(208, "normal")], [(208, "mobility", 0)]])
def test_nothing_is_proposed_for_a_sound_tooth(rows):
    assert not proposals(charted("dog", *rows))


def test_three_millimetres_are_planed_in_a_cat_not_in_a_dog():
    # Source: normal sulcus, dog to 3 mm, cat to 1 mm: common practice, no source.
    row = (208, "pocket", 3, "mesial")
    assert "closed_root_planing" in rules([row], "cat") - rules([row], "dog")


def of_stomatitis(*rows, place="left_caudal_mouth"):
    stomatitis = Observation(kind="stomatitis", value="mild", place=place)
    return charted("cat", *rows).after(Observed(observations=(stomatitis,)))


@pytest.mark.parametrize("place", observation_kinds()["stomatitis"].places)
def test_stomatitis_anywhere_rules_out_crown_amputation(place):
    # Source: WSAVA Global Dental Guidelines, from memory: confirm.
    chart = of_stomatitis((308, "resorption", "4a"), (308, "resorption_type", 2), place=place)
    (found,) = (each for each in proposals(chart) if each.rule.startswith("resorption"))
    assert found.rule == "resorption_type_2_stomatitis"
    assert "ruled out by the stomatitis" in found.text


def test_disease_of_the_root_rules_out_crown_amputation_before_stomatitis_does():
    # Source: WSAVA Global Dental Guidelines, from memory: confirm.
    made = proposals(of_stomatitis((308, "resorption_type", 2), (308, "periapical_lucency")))
    about_type_2 = {each.rule for each in made if each.rule.startswith("resorption")}
    assert about_type_2 == {"resorption_type_2_diseased"}


def test_stomatitis_changes_nothing_for_another_type_of_resorption():
    rows = [(308, "resorption", 3), (308, "resorption_type", 1)]
    assert proposals(of_stomatitis(*rows)) == proposals(charted("cat", *rows))


NOT_FOR_DECIDUOUS = [
    "endodontic treatment", "surgery", "planing", "sealing", "restoration", "reduction",
]  # fmt: skip


@pytest.mark.parametrize(("rule", "rows"), PROPOSED)
def test_a_deciduous_tooth_is_not_repaired(rule, rows):
    # Source: from memory: confirm (a deciduous tooth is extracted or left to shed).
    deciduous = [(608, *row[1:]) for row in rows]
    steps = [each.text.lower() for each in proposals(charted("dog", *deciduous))]
    assert not [step for step in steps for word in NOT_FOR_DECIDUOUS if word in step]


def test_a_deciduous_tooth_is_cleaned_and_radiographed_like_any_other():
    assert rules([(608, "calculus", 2), (608, "fracture", "CCF")]) == {
        "radiograph_first", "deciduous_endodontic", "clean",
    }  # fmt: skip


def test_a_diseased_root_may_be_charted_on_a_missing_tooth_and_is_not_asked_about():
    # Source: with_root in findings.toml: common practice, no source.
    rows = [(208, "missing"), (208, "retained_root"), (208, "draining_tract")]
    kind = finding_kinds()["draining_tract"]
    assert kind.may_be_on_missing({"missing", "retained_root"})
    assert not kind.may_be_on_missing({"missing"})
    assert questions(charted("dog", *rows)) == ()


# Which treatment answers which proposal: common practice, no source.
EXTRACTED, SCALED, POLISHED = (208, "extracted", "XSS"), (208, "scaled"), (208, "polished")
ANSWERED = [
    ("clean", [(208, "calculus", 1)], [SCALED, POLISHED]),
    ("closed_root_planing", [(208, "pocket", 5, "mesial")], [(208, "root_planed", "RP/C")]),
    ("open_root_planing", [(208, "pocket", 6, "mesial")], [(208, "root_planed", "RP/O")]),
    ("caries", [(208, "caries")], [(208, "restored")]),
    ("enamel", [(208, "enamel_defect")], [(208, "restored")]),
    ("exposed_dentin", [(208, "fracture", "UCF")], [(208, "restored")]),
    ("radiograph_first", [(208, "fracture", "UCF")], [(208, "radiographed", "taken")]),
    ("radiograph_first", [(208, "fracture", "UCF")], [(208, "radiographed", "normal")]),
    ("radiograph_missing", [(208, "missing")], [(208, "radiographed", "taken")]),
    ("persistent_deciduous", [(204, "persistent_deciduous")], [(604, "extracted", "X")]),
    ("persistent_deciduous", [(604, "persistent_deciduous")], [(604, "extracted", "X")]),
]
NOT_ANSWERED = [
    ("clean", [(208, "calculus", 1)], [SCALED]),
    ("clean", [(208, "calculus", 1)], [POLISHED]),
    ("clean", [(208, "calculus", 1)], [(208, "root_planed", "RP")]),
    ("clean", [(208, "calculus", 1)], [(209, "scaled"), (209, "polished")]),
    ("caries", [(208, "caries")], [SCALED, POLISHED]),
    ("exposed_pulp", [(208, "fracture", "CCF")], [(208, "restored")]),
    ("periodontal_extraction", [(208, "furcation", 3)], [(208, "root_planed", "RP/O")]),
    ("persistent_deciduous", [(204, "persistent_deciduous")], [(204, "extracted", "X")]),
    ("root_quiet", [(208, "retained_root")], [EXTRACTED]),
    ("oronasal_fistula", [(204, "oronasal_fistula")], [(204, "extracted", "XSS")]),
    ("oronasal_fistula", [(204, "oronasal_fistula")], [(204, "sutured")]),
    ("normal_with_bone_loss", [(208, "normal"), (208, "vertical_bone_loss", 9)], [SCALED]),
]


@pytest.mark.parametrize(("rule", "rows", "treatment"), ANSWERED)
def test_treatment_answers_a_proposal(rule, rows, treatment):
    assert rule in rules(rows)
    assert rule not in rules([*rows, *treatment])


@pytest.mark.parametrize(("rule", "rows", "treatment"), NOT_ANSWERED)
def test_another_treatment_leaves_the_proposal(rule, rows, treatment):
    assert rule in rules([*rows, *treatment])


NOT_ANSWERED_BY_THIS_EXTRACTION = {
    "root_with_disease", "root_quiet", "persistent_deciduous", "oronasal_fistula",
}  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "rows"), [case for case in PROPOSED if case[0] not in NOT_ANSWERED_BY_THIS_EXTRACTION]
)
def test_nothing_more_is_proposed_for_an_extracted_tooth(rule, rows):
    if rule != "radiograph_missing":  # a tooth charted missing cannot be extracted
        assert rules([*rows, (rows[0][0], "extracted", "XSS")]) == set()


@pytest.mark.parametrize(("rule", "rows"), PROPOSED)
def test_a_referral_leaves_every_proposal(rule, rows):
    assert rules([*rows, (rows[0][0], "referred")]) == rules(rows)


def test_only_treatments_and_radiographs_answer_a_proposal():
    answers = {
        kind for row in proposal_rows().values() for each in row.answered_by
        for kind in each.split("+")
    }  # fmt: skip
    sections = {kind: finding_kinds()[kind].section for kind in answers}
    assert {kind for kind, section in sections.items() if section == "charting"} == set()


charts = st.lists(
    st.sampled_from([row for _, rows in PROPOSED + NOT_PROPOSED for row in rows]),
    max_size=12,
    unique_by=place_of,
)


@given(charts)
def test_every_proposal_ends_with_whose_decision_it_is(rows):
    assert all(each.text.endswith(ENDING) for each in proposals(charted("dog", *rows)))


@given(charts)
def test_open_and_closed_root_planing_are_never_proposed_for_one_tooth(rows):
    teeth = {}
    for each in proposals(charted("dog", *rows)):
        teeth.setdefault(each.tooth, set()).add(each.rule)
    assert not any({"open_root_planing", "closed_root_planing"} <= made for made in teeth.values())


@given(charts, st.randoms())
def test_proposals_do_not_depend_on_the_order_of_findings(rows, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert proposals(charted("dog", *rows)) == proposals(charted("dog", *shuffled))
