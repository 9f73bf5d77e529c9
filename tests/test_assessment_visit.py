"""What follows from the parts of a visit beside the charting: views, treatment, occlusion."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.assessment import assess, decided_proposals, planned
from dictate.assessment.completeness import whats_left
from dictate.assessment.proposals import proposal_rows, proposals, proposals_made
from dictate.assessment.questions import question_rows, questions
from dictate.assessment.staging import stage_of
from dictate.assessment.summary import mouth_summary
from dictate.assessment.tooth import tooth_in
from dictate.assessment.visit_parts import part_rows
from dictate.assessment.visit_question_rules import VISIT_RULES
from dictate.chart.anatomy import anatomy_of, is_left, is_upper
from dictate.chart.case import Case
from dictate.chart.events import Charted, Decided, Observed, Skipped
from dictate.chart.observation import NORMAL, Observation, observation_kinds
from tests.test_assessment_attachment import charted, finding
from tests.test_assessment_completeness import examined
from tests.test_assessment_proposals import NOT_PROPOSED, PROPOSED

FULL_MOUTH = ("view", "full_mouth")
CASE = Case(id="brindle", species="dog", opened=datetime(2026, 11, 25, tzinfo=UTC))


def observed(chart, *seen):
    """The chart with observations (kind, value, place) added."""
    return chart.after(Observed(observations=tuple(observation(*each) for each in seen)))


def observation(kind, value=None, place=None):
    return Observation(kind=kind, value=value, place=place)


def decided(chart, tooth, rule, decision, text=""):
    return chart.after(Decided(tooth=tooth, rule=rule, decision=decision, text=text))


def rules(chart):
    return {each.rule for each in proposals(chart)}


# Radiographs. Source of the views: AAHA Dental Care Guidelines 2019; what a view of a corner or a
# jaw covers follows from its name (common practice, no source).


def test_after_full_mouth_radiographs_no_radiograph_is_proposed():
    chart = charted("dog", (208, "fracture", "UCF"), (301, "missing"))
    assert {"radiograph_first", "radiograph_missing"} <= rules(chart)
    after = rules(observed(chart, FULL_MOUTH))
    assert after.isdisjoint({"radiograph_first", "radiograph_missing"})


@pytest.mark.parametrize("term", ["taken", "normal"])
def test_a_radiograph_of_one_tooth_is_of_that_tooth_alone(term):
    chart = charted(
        "dog",
        (208, "fracture", "UCF"),
        (108, "fracture", "UCF"),
        (208, "radiographed", term),
    )
    proposed = {each.tooth for each in proposals(chart) if each.rule == "radiograph_first"}
    assert proposed == {108}


@pytest.mark.parametrize(
    ("place", "covered"),
    [
        ("upper_left", {204, 604}),
        ("upper_right", {104, 504}),
        ("lower_left", {304, 704}),
        ("lower_right", {404, 804}),
        ("upper", {104, 204, 504, 604}),
        ("lower", {304, 404, 704, 804}),
        (None, set()),
    ],
)
def test_a_view_covers_its_corner_or_its_jaw(place, covered):
    chart = observed(charted("dog"), ("view", "parallel", place))
    teeth = (104, 204, 304, 404, 504, 604, 704, 804)
    assert {tooth for tooth in teeth if tooth_in(chart, tooth).radiographed} == covered


def test_a_complicated_fracture_in_a_view_is_not_asked_for_a_radiograph():
    chart = charted("dog", (208, "fracture", "CCF"))
    assert "complicated_without_radiograph" in {each.rule for each in questions(chart)}
    assert not questions(observed(chart, ("view", "parallel", "upper_left")))


def test_a_missing_tooth_that_was_radiographed_is_not_said_to_need_a_radiograph():
    chart = observed(charted("dog", (301, "missing")), FULL_MOUTH)
    (missing,) = mouth_summary(chart).missing
    assert "radiograph to tell" not in missing.sentence


@pytest.mark.parametrize("species", ["dog", "cat"])
@given(data=st.data())
def test_the_four_corners_cover_every_tooth_once(species, data):
    anatomy = anatomy_of(species)
    tooth = data.draw(st.sampled_from((*anatomy.permanent_teeth, *anatomy.deciduous_teeth)))
    corners = [
        (jaw, side)
        for jaw in ("upper", "lower")
        for side in ("left", "right")
        if tooth_in(
            observed(charted(species), ("view", "parallel", f"{jaw}_{side}")), tooth
        ).radiographed
    ]
    expected = ("upper" if is_upper(tooth) else "lower", "left" if is_left(tooth) else "right")
    assert corners == [expected]


# Extraction.


def test_the_stage_of_an_extracted_tooth_stays_as_it_was_found():
    rows = [(208, "horizontal_bone_loss", 60)]
    assert stage_of(charted("dog", *rows, (208, "extracted", "X")), 208).name == "PD4"


def test_nothing_is_left_to_examine_of_an_extracted_tooth():
    chart = charted("dog", (208, "mobility", 3), (208, "extracted", "XSS"))
    assert whats_left(chart, [208]).complete


def test_a_tooth_of_which_only_its_extraction_is_charted_is_not_left():
    assert whats_left(charted("dog", (208, "extracted", "EXT")), [208]).complete


# Decisions.

DEEP = (208, "pocket", 6, "mesial")
EXTRACTED = (208, "extracted", "X")


def state_of(chart, rule, tooth=208):
    return next(
        each
        for each in decided_proposals(chart)
        if (each.proposal.tooth, each.proposal.rule) == (tooth, rule)
    )


def test_an_open_proposal_that_treatment_answers_is_withdrawn():
    assert not decided_proposals(charted("dog", DEEP, EXTRACTED))


@pytest.mark.parametrize("decision", ["accepted", "changed", "dismissed"])
def test_a_decided_proposal_stays_beside_the_treatment_that_answers_it(decision):
    chart = decided(charted("dog", DEEP, EXTRACTED), 208, "open_root_planing", decision)
    kept = state_of(chart, "open_root_planing")
    assert (kept.state, kept.follows, kept.proposal.answered_by) == (
        decision,
        True,
        ("extracted",),
    )


def test_a_decision_stays_where_the_findings_no_longer_bring_the_proposal_about():
    chart = decided(charted("dog", (208, "caries")), 208, "caries", "accepted", "Restore.")
    chart = chart.after(Charted(findings=(), replaced=(finding(208, "caries"),)))
    kept = state_of(chart, "caries")
    assert (kept.state, kept.follows) == ("accepted", False)


def test_a_decision_by_a_rule_that_is_gone_is_not_lost():
    chart = decided(charted("dog"), 208, "an_old_rule", "accepted", "Watch it")
    assert state_of(chart, "an_old_rule").proposal.text == "Watch it"


def test_what_is_planned_names_the_treatment_that_answers_it():
    chart = decided(charted("dog", DEEP, EXTRACTED), 208, "open_root_planing", "accepted", "Open")
    assert [(each.text, each.answered_by) for each in planned(chart)] == [("Open", ("extracted",))]


def test_an_agreed_step_does_not_say_that_it_is_for_the_clinician_to_decide():
    (text,) = (
        each.text for each in proposals(charted("dog", (208, "caries"))) if each.rule == "caries"
    )
    chart = decided(charted("dog", (208, "caries")), 208, "caries", "accepted", text)
    assert [each.text for each in planned(chart)] == [
        "Restoration, or extraction where the pulp is reached, to consider"
    ]


def test_no_block_is_planned_for_a_tooth_that_is_out():
    chart = decided(charted("dog", DEEP), 208, "open_root_planing", "accepted")
    assert assess(CASE, chart).blocks
    after = chart.after(Charted(findings=(finding(*EXTRACTED),)))
    assert not assess(CASE, after).blocks


def test_proposals_decided_and_open_come_in_charting_order():
    chart = charted("dog", (408, "caries"), (108, "caries"), (208, "caries"))
    chart = decided(observed(chart, FULL_MOUTH), 208, "wear", "dismissed")
    listed = [(each.proposal.tooth, each.proposal.rule) for each in decided_proposals(chart)]
    assert listed == [(108, "caries"), (208, "caries"), (208, "wear"), (408, "caries")]


rows_found = st.sampled_from([row for _, rows in PROPOSED + NOT_PROPOSED for row in rows])
decisions_made = st.tuples(
    st.sampled_from([204, 208, 604]),
    st.sampled_from(sorted(proposal_rows())),
    st.sampled_from(["accepted", "changed", "dismissed"]),
)


@given(
    st.lists(rows_found, max_size=8, unique_by=lambda row: finding(*row).place),
    st.lists(decisions_made),
)
def test_no_decision_and_no_waiting_proposal_is_ever_lost(rows, made):
    chart = charted("dog", *rows, EXTRACTED)
    for each in made:
        chart = decided(chart, *each)
    listed = [(each.proposal.tooth, each.proposal.rule) for each in decided_proposals(chart)]
    waiting = {(each.tooth, each.rule) for each in proposals(chart)}
    assert sorted(listed) == sorted(waiting | {(tooth, rule) for tooth, rule, _ in made})
    assert waiting <= {(each.tooth, each.rule) for each in proposals_made(chart)}


# What is left. Source of the parts: AAHA Dental Care Guidelines 2019, twelve-step protocol.


def left_of(chart, section):
    return next((each for each in whats_left(chart).sections if each.section == section), None)


def whole_visit(species):
    """A chart in which everything is examined: the teeth missing, all else normal."""
    chart = charted(species, *((t, "missing") for t in anatomy_of(species).permanent_teeth))
    seen = [
        (kind, NORMAL, place)
        for kind, row in observation_kinds().items()
        if row.can_be_normal
        for place in (("left", "right") if row.paired else (None,))
    ]
    return observed(chart, *seen, ("general_calculus", 1), ("general_gingivitis", 0), FULL_MOUTH)


def test_a_whole_visit_is_complete():
    left = whats_left(whole_visit("dog"))
    assert left.complete
    assert left.sentence.startswith("Nothing is left")


REQUIRED = sorted(
    {kind.kind for section, row in part_rows().items() for kind in row.kinds_of(section)}
)


@pytest.mark.parametrize("kind", REQUIRED)
def test_a_visit_without_one_part_of_it_is_not_complete(kind):
    chart = whole_visit("cat")
    kept = tuple(each for each in chart.observations if each.kind != kind)
    left = whats_left(chart.model_copy(update={"observations": kept}))
    assert not left.complete
    assert [each.lacking for each in left.sections] == [(observation_kinds()[kind].title,)]


def test_every_kind_of_the_head_is_asked_for():
    head = [row.title for row in observation_kinds().values() if row.section == "head"]
    assert left_of(charted("dog"), "head").lacking == tuple(head)


def test_a_head_that_is_covered_as_normal_is_examined():
    chart = whole_visit("dog")
    covered = tuple(each.model_copy(update={"covered": True}) for each in chart.observations)
    assert whats_left(chart.model_copy(update={"observations": covered})).complete


def test_of_a_pair_the_side_that_was_not_seen_is_left():
    chart = observed(charted("dog"), ("tonsil", "normal", "left"))
    assert "Tonsil (right)" in left_of(chart, "soft_tissue").lacking


def test_an_ulcer_is_no_examination_of_the_soft_tissues():
    chart = observed(charted("dog"), ("ulcer", None, "tongue"))
    assert not left_of(chart, "soft_tissue").begun


@pytest.mark.parametrize(
    "chart",
    [
        observed(charted("dog"), ("view", "parallel", "upper_left")),
        charted("dog", (208, "radiographed", "taken")),
        charted("dog", (208, "horizontal_bone_loss", 10)),
    ],
    ids=["a view", "a tooth", "a finding"],
)
def test_radiographs_are_begun_with_a_view_or_one_tooth(chart):
    assert left_of(chart, "radiographs") is None


def test_a_lesion_of_a_part_says_that_it_was_seen():
    chart = observed(
        charted("dog"), ("ulcer", None, "under_tongue"), ("mass", None, "left_upper_lip")
    )
    assert "Tongue" not in left_of(chart, "soft_tissue").lacking
    assert "Lip (right)" in left_of(chart, "head").lacking


def test_what_is_left_is_said_teeth_first():
    chart = charted("dog", *((t, "missing") for t in anatomy_of("dog").permanent_teeth[:-1]))
    chart = observed(chart, ("odour", "mild"))
    assert whats_left(chart).sentence == (
        "Left: 411 not examined; head, soft tissue and radiographs not examined; "
        "mouth seen awake not examined in full."
    )


@pytest.mark.parametrize(
    "row", [(308, "radiographed", "normal"), (308, "scaled"), (308, "root_length", 20)]
)
def test_radiographs_and_treatment_make_no_tooth_examined(row):
    left = whats_left(charted("dog", row))
    assert 308 in left.not_examined
    assert not left.begun


def test_a_tooth_that_was_radiographed_and_examined_is_done():
    chart = charted("dog", *examined(308), (308, "radiographed", "normal"))
    assert whats_left(chart, [308]).complete


def test_a_skipped_tooth_with_a_radiograph_is_still_left():
    chart = charted("dog", (308, "radiographed", "taken")).after(Skipped(tooth=308))
    assert whats_left(chart).skipped == (308,)


def in_dentition(dentition, *rows, species="dog"):
    return charted(species, *rows).model_copy(update={"dentition": dentition})


@pytest.mark.parametrize(("species", "teeth"), [("dog", 28), ("cat", 26)])
def test_of_a_deciduous_dentition_the_deciduous_teeth_are_left(species, teeth):
    # Source: modified Triadan system, Floyd 1991.
    left = whats_left(in_dentition("deciduous", species=species)).not_examined
    assert len(left) == teeth
    assert all(tooth > 500 for tooth in left)


def test_in_a_mixed_dentition_a_deciduous_tooth_stands_for_its_place():
    left = whats_left(in_dentition("mixed", (604, "calculus", 1))).not_examined
    assert 204 not in left
    assert 203 in left


def test_in_a_permanent_dentition_a_deciduous_tooth_does_not():
    assert 204 in whats_left(in_dentition("permanent", (604, "calculus", 1))).not_examined


def test_in_a_mixed_dentition_a_radiograph_of_the_deciduous_tooth_is_not_enough():
    left = whats_left(in_dentition("mixed", (604, "radiographed", "taken"))).not_examined
    assert 204 in left


def test_in_a_mixed_dentition_a_deciduous_tooth_that_was_skipped_is_its_place_skipped():
    chart = in_dentition("mixed").after(Skipped(tooth=604))
    assert whats_left(chart).skipped == (204,)


def test_a_first_premolar_has_no_deciduous_tooth_to_stand_for_it():
    # Source: modified Triadan system, Floyd 1991: x05 has no deciduous predecessor.
    assert 205 in whats_left(in_dentition("mixed", (606, "calculus", 1))).not_examined


# Questions about the mouth. Source: AVDC nomenclature, Malocclusion, beside each in questions.toml.

NORMAL_OCCLUSION = ("occlusion", "normal")
SIX_DIRTY = [(tooth, "calculus", 2) for tooth in range(301, 307)]


def asked(chart):
    return {each.rule for each in questions(chart) if each.tooth is None}


ASKED = [
    ("normal_occlusion_with_crossbite", [], [NORMAL_OCCLUSION, ("crossbite", "rostral")]),
    ("normal_occlusion_with_crossbite", [], [NORMAL_OCCLUSION, ("crossbite", "caudal", "left")]),
    ("normal_occlusion_with_bite", [], [NORMAL_OCCLUSION, ("incisor_bite", "level")]),
    ("normal_occlusion_with_bite", [], [NORMAL_OCCLUSION, ("incisor_bite", "reverse_scissor")]),
    ("normal_occlusion_with_bite", [], [NORMAL_OCCLUSION, ("incisor_bite", "open")]),
    ("normal_occlusion_with_malposition", [(304, "malposition", "LV")], [NORMAL_OCCLUSION]),
    ("crossbite_without_class", [], [("crossbite", "rostral")]),
    ("clean_awake_yet_calculus", SIX_DIRTY, [("general_calculus", 0)]),
    (
        "clean_awake_yet_gingivitis",
        [(tooth, "gingivitis", 2) for tooth in range(301, 307)],
        [("general_gingivitis", 0)],
    ),
]


@pytest.mark.parametrize(
    ("rule", "rows", "seen", "sentence"),
    [
        (
            "normal_occlusion_with_crossbite",
            [],
            [NORMAL_OCCLUSION, ("crossbite", "rostral"), ("crossbite", "caudal", "left")],
            "The occlusion is charted normal, yet with crossbite rostral,"
            " left crossbite caudal: which holds?",
        ),
        (
            "normal_occlusion_with_malposition",
            [(204, "malposition", "PV"), (304, "malposition", "LV")],
            [NORMAL_OCCLUSION],
            "The occlusion is charted normal, yet teeth out of place (204, 304):"
            " is it a class 1 malocclusion?",
        ),
        (
            "clean_awake_yet_calculus",
            [*SIX_DIRTY, (208, "calculus", 1)],
            [("general_calculus", 0)],
            None,
        ),
        (
            "clean_awake_yet_calculus",
            [*SIX_DIRTY, (208, "calculus", 4)],
            [("general_calculus", 0)],
            "The mouth was seen awake with calculus 0, yet the mean of 7 teeth is 2.3:"
            " is the first grade right?",
        ),
    ],
)
def test_a_question_about_the_mouth_says_what_does_not_fit_together(rule, rows, seen, sentence):
    chart = observed(charted("dog", *rows), *seen)
    asked = [each.sentence for each in questions(chart) if each.rule == rule]
    assert asked == ([sentence] if sentence else [])


@pytest.mark.parametrize(("rule", "rows", "seen"), ASKED)
def test_what_does_not_fit_together_over_the_visit_is_asked(rule, rows, seen):
    assert asked(observed(charted("dog", *rows), *seen)) == {rule}


@pytest.mark.parametrize(
    ("rows", "seen"),
    [
        ([], [NORMAL_OCCLUSION, ("incisor_bite", "scissor")]),
        ([(304, "malposition", "LV")], [("occlusion", "MAL1"), ("crossbite", "rostral")]),
        ([], [("occlusion", "MAL3"), ("incisor_bite", "reverse_scissor")]),
        ([], [("incisor_bite", "level")]),
        (SIX_DIRTY[:5], [("general_calculus", 0)]),
        (SIX_DIRTY, [("general_calculus", 1)]),
        ([*SIX_DIRTY[:5], (309, "calculus", 1)], [("general_calculus", 0)]),
    ],
)
def test_what_fits_together_over_the_visit_is_not_asked(rows, seen):
    assert not asked(observed(charted("dog", *rows), *seen))


def test_every_question_about_the_mouth_has_a_case():
    assert {rule for rule, _, _ in ASKED} == set(VISIT_RULES)


def test_a_question_about_the_mouth_names_what_was_charted():
    chart = observed(charted("dog"), NORMAL_OCCLUSION, ("crossbite", "caudal", "left"))
    (question,) = questions(chart)
    assert question.sentence == (
        "The occlusion is charted normal, yet with left crossbite caudal: which holds?"
    )
    assert question.source.startswith("AVDC nomenclature, Malocclusion")


def test_every_part_and_question_names_its_source():
    assert all(row.source for row in (*part_rows().values(), *question_rows().values()))
