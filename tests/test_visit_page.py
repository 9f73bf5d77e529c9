"""The page of a whole visit: what stands in which section of it, and in which order."""

import re
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.events import Noted
from dictate.grammar.spoken import spoken_languages
from dictate.report.page import html_page
from dictate.report.record import record_of
from dictate.session.session import Session
from tests.test_page import HOSTILE, Page

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
COVERED = "covered by “head examination normal”"
ORDER = (
    *("settings", "awake", "soft-tissue", "charting", "mouth", "findings", "probing", "stages"),
    *("summary", "radiographs", "questions", "proposals", "plan", "treatment", "blocks", "notes"),
    *("left", "heard"),
)


def visit(*said, **of):
    """A session in which every phrase was typed and charted."""
    case = Case(**{"id": "mila-1", "species": "dog", "opened": OPENED, "animal": "Mila"} | of)
    session = Session(case, spoken_languages(), now=lambda: OPENED)
    for phrase in said:
        heard = session.type_text(phrase)
        assert heard.outcome == "charted", (phrase, heard)
    return session


def page_of(session, *more):
    events = list(session.events)
    for what in more:
        number = len(events) + 1
        events.append(events[-1].model_copy(update={"sequence": number, "what": what}))
    return Page(html_page(record_of(session.case, events), OPENED))


def page(*said, **of):
    return page_of(visit(*said, **of))


def test_the_sections_stand_in_the_order_of_a_visit():
    markup = html_page(record_of(*_empty()), OPENED)
    found = re.findall(r'<(?:section|figure)[^>]* id="([a-z-]+)"', markup)
    assert tuple(found) == ORDER


def _empty():
    session = visit()
    return session.case, session.events


def test_what_was_stated_of_the_head_is_told_from_what_was_only_covered():
    text = page("left lymph node enlarged", "head examination normal").text("awake")
    assert "Mandibular lymph node left enlarged stated" in text
    assert f"Mandibular lymph node right normal {COVERED}" in text
    assert f"Face symmetrical {COVERED}" in text


def test_what_is_the_same_on_both_sides_stands_on_one_line():
    text = page("head examination normal").text("awake")
    assert f"Eye left and right normal {COVERED}" in text
    assert text.count("Eye") == 1


def test_an_awake_examination_that_was_not_made_is_not_called_normal():
    text = page().text("awake")
    assert "Nothing is recorded." in text
    assert "normal" not in text
    assert "Not examined (head): Face" in text


def test_a_part_of_the_head_that_was_not_examined_is_named():
    text = page("left lymph node enlarged").text("awake")
    assert "Mandibular lymph node (right)" in text


def test_a_grade_seen_awake_states_its_scale():
    text = page("go to awake examination", "general calculus 2", index_scale=3).text("awake")
    assert "Calculus seen awake, whole mouth 2 of 3 stated" in text


def test_a_mass_has_its_place_size_and_colour():
    text = page("go to soft tissue", "mass left cheek 5 by 7 mm pink").text("soft-tissue")
    assert "Mass left cheek 5 × 7 mm, pink stated" in text


def test_soft_tissue_that_was_only_covered_is_marked():
    text = page("go to soft tissue", "soft tissue normal").text("soft-tissue")
    assert "Tongue normal covered by “soft tissue normal”" in text


def test_what_a_radiograph_showed_is_not_among_what_was_charted():
    of = page("208 pocket 6 mesial", "208 horizontal bone loss 30%", "full mouth radiographs")
    assert "bone loss" not in of.text("findings")
    assert "208 left maxillary fourth premolar HBL30 Horizontal bone loss 30 %" in of.text(
        "radiographs"
    )
    assert "Full mouth" in of.text("radiographs")
    assert "PD6" not in of.text("radiographs")


def test_what_was_treated_is_not_among_what_was_charted():
    of = page("208 pocket 6 mesial", "208 surgical extraction sutured")
    assert "xtract" not in of.text("findings")
    text = of.text("treatment")
    assert "208 left maxillary fourth premolar XSS Extracted, surgical (open)" in text
    assert "SUT Site sutured" in text


def test_a_tooth_that_was_only_treated_is_not_counted_as_charted():
    text = page("go to treatment", "208 scaled").text("count")
    assert "0 of 42 permanent teeth charted" in text


def test_teeth_with_the_same_treatment_stand_together():
    text = page("go to treatment", "201 to 203 scaled polished").text("treatment")
    assert "201, 202, 203 SC Scaled POL Polished" in text


def test_a_block_that_was_given_is_recorded_and_not_advised():
    text = page("go to treatment", "left infraorbital block bupivacaine 0.5 ml").text("blocks")
    assert "recorded as given, not advised" in text
    assert "Left infraorbital, bupivacaine, 0.5 mL" in text


def test_a_stage_has_its_reasons_and_why_it_is_provisional():
    """A stage 2 furcation is PD3. Source: AVDC nomenclature, Periodontal Disease."""
    text = page("208 pocket 6 mesial furcation 2").text("stages")
    assert "208 PD3 provisional Stage 2 furcation." in text
    assert "No percentage: root length in mm or bone loss in % from a radiograph." in text


def test_a_settled_stage_is_not_called_provisional():
    """Bone loss over half the root is PD4. Source: AVDC nomenclature, Periodontal Disease."""
    rows = page("208 horizontal bone loss 60%").text("stages").split("Provisional:")[0]
    assert "208 PD4 Bone loss 60 % on the radiograph." in rows
    assert "provisional Bone" not in rows


def test_the_summary_has_means_with_scale_and_teeth_graded():
    text = page("104 calculus 2", "204 calculus 1", index_scale=3).text("summary")
    assert "Calculus 1.5 0 to 3 2" in text
    assert "Plaque not graded 0 to 3 0" in text


def test_the_summary_lists_teeth_by_stage_and_provisional_ones_apart():
    of = page("208 horizontal bone loss 60%", "104 gingivitis 1")
    assert "PD1 1 (1 provisional) provisional: 104" in of.text("summary")
    assert "PD4 1 208" in of.text("summary")


def test_a_missing_tooth_is_listed_with_what_it_may_be():
    """Source: AVDC nomenclature, Abnormalities of Teeth."""
    text = page("105 missing").text("summary")
    assert "105 extracted or congenitally missing or unerupted: radiograph to tell" in text


def test_a_question_is_on_the_page_with_its_tooth():
    text = page("208 pocket 2 mesial furcation 3").text("questions")
    assert "208 has a stage 3 furcation, yet normal depths everywhere" in text


def test_an_open_proposal_is_left_to_the_clinician():
    text = page("304 complicated crown fracture").text("proposals")
    assert "as the pulp is exposed: for the clinician to decide. open" in text


def test_teeth_for_which_one_thing_is_proposed_stand_together():
    text = page("104 calculus 2", "204 calculus 1").text("proposals")
    assert "104, 204 Scaling above and below the gum margin" in text


def test_what_was_decided_stands_beside_the_proposal():
    session = visit("304 complicated crown fracture", "104 calculus 2")
    session.decide([304], "exposed_pulp", "changed", "Refer for root canal treatment")
    session.decide([104], "clean", "dismissed")
    text = page_of(session).text("proposals")
    assert "changed : Refer for root canal treatment" in text
    assert "dismissed" in text


def test_a_decision_outlives_the_finding_that_brought_it_about():
    session = visit("304 complicated crown fracture")
    session.decide([304], "exposed_pulp", "accepted", "Extraction")
    session.type_text("correction enamel infraction")
    assert session.chart.on(304)[0].value == "EI"
    of = page_of(session)
    assert "No longer follows from the findings." in of.text("proposals")
    assert "304 Extraction" in of.text("plan")


def test_the_plan_goes_by_quadrant_with_the_blocks_that_would_reach_its_teeth():
    """Extents of blocks: common practice, no source."""
    session = visit("304 complicated crown fracture", "208 pocket 6 mesial furcation 2")
    session.decide([304], "exposed_pulp", "accepted", "Extraction")
    session.decide([208], "open_root_planing", "accepted", "Open root planing")
    text = page_of(session).text("plan")
    upper, lower = text.index("Upper left"), text.index("Lower left")
    assert upper < text.index("208 Open root planing") < lower < text.index("304 Extraction")
    assert "Inferior alveolar (caudal mandibular) would reach 304 ." in text


def test_the_plan_for_a_cat_has_the_caution_about_its_infraorbital_canal():
    """The canal is short and lies under the eye. Source: common practice, no source."""
    session = visit("204 complicated crown fracture", species="cat")
    session.decide([204], "exposed_pulp", "accepted", "Extraction")
    assert "eye" in page_of(session).text("plan")


def test_what_was_dismissed_is_not_planned():
    session = visit("104 calculus 2")
    session.decide([104], "clean", "dismissed")
    assert "Nothing is agreed yet." in page_of(session).text("plan")


def test_a_spoken_note_is_not_verified_and_names_its_clip_without_its_folder():
    note = Noted(text="check a gain", tooth=208, clip="/home/okoro/clips/note-7.flac")
    text = page_of(visit("208 calculus 1"), note).text("notes")
    assert "208 check a gain spoken, not verified clip note-7.flac" in text
    assert "okoro" not in text


def test_a_typed_note_is_called_typed():
    text = page("note: check again").text("notes")
    assert "check again typed" in text
    assert "not verified" not in text


def test_what_is_left_is_said_tooth_by_tooth():
    text = page("104 calculus 2 gingivitis 1").text("left")
    assert "Left:" in text
    assert "104 probing depths, mobility all six" in text
    assert "Teeth not examined 110, 109, 108" in text


def test_a_visit_with_something_left_is_never_called_complete():
    said = ("head examination normal", "go to soft tissue", "soft tissue normal")
    text = page(*said, "go to charting", "104 calculus 2").text().lower()
    assert "complete" not in text
    assert "every tooth is examined" not in text


def test_only_a_visit_with_nothing_left_says_that_nothing_is_left():
    said = (
        *("go to awake examination", "head examination normal", "no odour", "occlusion normal"),
        *("general calculus 1", "general gingivitis 1", "go to soft tissue", "soft tissue normal"),
        *("go to charting", "all teeth normal", "go to radiographs", "full mouth radiographs"),
    )
    assert "Nothing is left: every tooth is examined." in page(*said).text("left")
    assert "Nothing is left" not in page(*said[:-1]).text("left")


def test_a_note_or_an_observation_that_was_taken_back_says_so():
    of = page("left lymph node enlarged", "undo", "note: check again", "undo")
    assert of.text("heard").count("taken back") == 2
    assert "None." in of.text("notes")


def test_a_puppy_is_counted_by_its_deciduous_teeth():
    of = page("504 calculus 1", "204 calculus 1", dentition="deciduous")
    assert "1 of 28 deciduous teeth charted" in of.text("count")
    assert "1 permanent with findings" in of.text("count")


def test_in_a_mixed_dentition_a_place_counts_by_either_tooth():
    of = page("504 calculus 1", "208 calculus 1", dentition="mixed")
    assert "2 of 42 places charted 40 not yet charted" in of.text("count")


def test_the_dentition_that_was_stated_in_the_visit_is_among_the_settings():
    assert "Dentition mixed" in page("mixed dentition").text("settings")


def test_markup_in_a_note_or_a_decision_is_only_text():
    session = visit("304 complicated crown fracture")
    session.decide([304], "exposed_pulp", "changed", HOSTILE)
    of = page_of(session, Noted(text=HOSTILE, clip=HOSTILE))
    assert not {"script", "img"} & set(of.tags)
    assert not of.unbalanced
    for part in ("proposals", "plan", "notes"):
        assert "<script>alert(1)</script>" in of.text(part)
        assert "\u202e" not in of.text(part)
        assert "⟨U+202E⟩" in of.text(part)


@settings(deadline=None, max_examples=30)
@given(st.text(max_size=80), st.text(max_size=80))
def test_whatever_is_noted_or_decided_the_page_keeps_its_shape(note, decision):
    def tags_of(text, decided):
        session = visit("304 complicated crown fracture")
        session.decide([304], "exposed_pulp", "changed", decided)
        of = page_of(session, Noted(text=text, clip=text))
        assert not of.unbalanced
        return set(of.tags)

    assert tags_of(note, decision) == tags_of("x", "y")


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_a_page_without_anything_charted_says_so_everywhere(species):
    of = page(species=species)
    for part in ("findings", "probing", "stages", "radiographs", "treatment", "blocks", "notes"):
        assert re.search("(No|None|Nothing)", of.text(part))
