"""A visit by voice: what is said in each part of it, and what stands in the chart then."""

from datetime import UTC, datetime
from itertools import permutations
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.chart import Chart, standing_utterances
from dictate.chart.events import GO_TO_NAMES
from dictate.chart.observation_rules import objection_to_observation
from dictate.chart.rules import objection_to_finding
from dictate.grammar.sample import sentence
from dictate.grammar.spoken import spoken_languages
from dictate.reference.spoken_findings import spoken_forms
from dictate.session.session import Session
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis

LANGUAGES = spoken_languages()
OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
GO_TO = {context: f"go to {name}" for context, name in GO_TO_NAMES.items()}


def session(species: str = "dog") -> Session:
    case = Case(id="sorrel", species=species, opened=OPENED, animal="Sorrel")
    return Session(case, LANGUAGES, now=lambda: OPENED)


def hear(one: Session, text: str):
    return one.hear(Hypothesis(text, score=1.0, trust="sure", engine="sphinx"))


def say(one: Session, *phrases: str) -> list[str]:
    return [hear(one, phrase).outcome for phrase in phrases]


def charted(one: Session) -> list[str]:
    return [f"{finding.tooth} {finding.words()}" for finding in one.chart.findings]


def seen(one: Session) -> list[str]:
    return [observation.words() for observation in one.chart.observations]


def after(*phrases: str, species: str = "dog") -> Session:
    """A session in which all of the phrases were said and charted."""
    one = session(species)
    assert say(one, *phrases) == ["charted"] * len(phrases)
    return one


# Probing and furcation

DEPTHS = {
    "mesio buccal": 3,
    "buccal": 2,
    "disto buccal": 4,
    "mesio palatal": 5,
    "palatal": 1,
    "disto palatal": 6,
}
NUMBERS = ("zero", "one", "two", "three", "four", "five", "six")


def depths_of(one: Session) -> dict:
    return {finding.site: finding.value for finding in one.chart.on(208)}


@given(st.permutations(list(DEPTHS)))
@settings(deadline=None, max_examples=40)
def test_six_sites_in_any_order_give_the_same_chart(order):
    # Source: common practice, no source: six probing sites a tooth.
    one = after("two oh eight", *(f"pocket {NUMBERS[DEPTHS[site]]} {site}" for site in order))
    expected = {site.replace(" ", ""): depth for site, depth in DEPTHS.items()}
    assert depths_of(one) == expected


@pytest.mark.parametrize(
    "runs",
    permutations(("buccal three two four", "palatal five one six")),
    ids="-then-".join,
)
def test_depth_runs_give_the_same_six_sites(runs):
    one = after("two oh eight", *runs)
    assert depths_of(one) == {site.replace(" ", ""): depth for site, depth in DEPTHS.items()}


def test_a_depth_run_goes_from_mesial_to_distal():
    one = after("two oh eight buccal three two four")
    assert depths_of(one) == {"mesiobuccal": 3, "buccal": 2, "distobuccal": 4}


@pytest.mark.parametrize("site", ["buccal", "palatal", "mesial", "distal", "mesio palatal"])
@pytest.mark.parametrize("said", ["furcation two {}", "furcation {} two", "{} furcation two"])
def test_a_furcation_is_charted_at_each_site(site, said):
    # Source: AVDC nomenclature, Periodontal Disease: furcation stages 1-3.
    one = after("two oh eight", said.format(site))
    assert charted(one) == [f"208 furcation 2 {site.replace(' ', '')}"]


def test_furcations_at_two_sites_stand_together():
    one = after("two oh eight furcation one buccal", "furcation three palatal")
    assert charted(one) == ["208 furcation 1 buccal", "208 furcation 3 palatal"]


def test_a_lower_tooth_has_no_palatal_side():
    one = session()
    assert say(one, "three oh nine", "pocket five palatal") == ["charted", "refused"]
    assert charted(one) == []


# Resorption and fractures


@pytest.mark.parametrize(
    ("said", "stage"),
    [
        ("one", 1),
        ("two", 2),
        ("three", 3),
        ("four", 4),
        ("four a", "4a"),
        ("four b", "4b"),
        ("four c", "4c"),
        ("five", 5),
    ],
)
@pytest.mark.parametrize("context", ["charting", "radiographs"])
def test_the_stages_of_tooth_resorption(said, stage, context):
    # Source: AVDC nomenclature, Abnormalities of Teeth: stages 1-5, 4a-4c.
    one = after(GO_TO[context], "three oh seven", f"resorption stage {said}")
    assert charted(one) == [f"307 resorption {stage}"]


@pytest.mark.parametrize(("said", "kind"), [("one", 1), ("two", 2), ("three", 3)])
def test_the_types_of_tooth_resorption_are_told_from_radiographs(said, kind):
    # Source: AVDC nomenclature, Abnormalities of Teeth: types 1-3.
    one = after("go to radiographs", "three oh seven", f"resorption type {said}", species="cat")
    assert charted(one) == [f"307 resorption type {kind}"]


@pytest.mark.parametrize("said", ["resorption type four", "resorption type zero"])
def test_there_is_no_other_type_of_tooth_resorption(said):
    one = after("go to radiographs", "three oh seven")
    assert say(one, said) == ["refused"]
    assert charted(one) == []


FRACTURES = {
    "EI": "enamel infraction",
    "EF": "enamel fracture",
    "UCF": "uncomplicated crown fracture",
    "CCF": "complicated crown fracture",
    "UCRF": "uncomplicated crown root fracture",
    "CCRF": "complicated crown root fracture",
    "RF": "root fracture",
}


@pytest.mark.parametrize(("code", "words"), FRACTURES.items())
def test_the_seven_fracture_classes_by_voice(code, words):
    # Source: AVDC nomenclature, Abnormalities of Teeth: fracture classes.
    assert charted(after("two oh eight", words)) == [f"208 fracture {code}"]


@pytest.mark.parametrize("code", FRACTURES)
@pytest.mark.parametrize("written", [str.upper, str.lower], ids=["capitals", "small"])
def test_the_seven_fracture_classes_typed(code, written):
    # Source: AVDC nomenclature, Abnormalities of Teeth: fracture classes.
    one = session()
    assert one.type_text(f"208 {written(code)}").outcome == "charted"
    assert charted(one) == [f"208 fracture {code}"]


def test_a_class_replaces_a_fracture_without_one_unasked():
    one = after("two oh eight fractured", "complicated crown fracture")
    assert charted(one) == ["208 fracture CCF"]


# Several teeth at once


def teeth_charted(one: Session) -> list[int]:
    return [finding.tooth for finding in one.chart.findings]


@pytest.mark.parametrize(
    ("said", "teeth"),
    [
        ("two oh one to two oh three", [201, 202, 203]),
        ("two oh three to two oh one", [201, 202, 203]),
        ("one oh two to two oh two", [102, 101, 201, 202]),
        ("all upper left", [*range(201, 211)]),
        ("all lower incisors", [303, 302, 301, 401, 402, 403]),
    ],
)
def test_several_teeth_of_a_dog_at_once(said, teeth):
    assert teeth_charted(after(f"{said} calculus two")) == teeth


@pytest.mark.parametrize(
    ("said", "teeth"),
    [
        ("two oh four to two oh six", [204, 206]),
        ("all upper left", [201, 202, 203, 204, 206, 207, 208, 209]),
    ],
)
def test_a_cat_has_no_205_in_a_range(said, teeth):
    # Source: modified Triadan system, Floyd 1991: 2 x (I 3/3, C 1/1, P 3/2, M 1/1).
    assert teeth_charted(after(f"{said} calculus two", species="cat")) == teeth


def test_a_range_does_not_begin_or_end_at_a_tooth_that_a_cat_does_not_have():
    one = session("cat")
    heard = hear(one, "two oh three to two oh five calculus two")
    assert (heard.outcome, heard.reason) == ("refused", "A cat has no 205.")
    assert charted(one) == []


def test_a_range_over_both_jaws_is_refused():
    one = session()
    heard = hear(one, "two oh one to three oh one calculus two")
    assert (heard.outcome, heard.rule) == ("refused", "range")
    assert charted(one) == []


def test_teeth_charted_missing_are_left_out_of_a_range_and_that_is_said():
    one = after("two oh two missing")
    heard = hear(one, "two oh one to two oh three calculus two")
    assert heard.reason == "Left out, charted missing: 202."
    assert charted(one) == ["202 missing", "201 calculus 2", "203 calculus 2"]


def test_the_rest_of_the_mouth_is_what_has_no_finding_and_was_not_skipped():
    one = after("two oh four mobility one", "three oh four", "skip tooth")
    assert say(one, "rest of the mouth calculus one") == ["charted"]
    assert len(one.chart.findings) == 42 - 2 + 1
    assert [finding.kind for finding in one.chart.on(204)] == ["mobility"]
    assert one.chart.on(304) == ()


def test_what_is_said_after_a_range_goes_to_all_of_it():
    one = after("two oh one to two oh three", "calculus two", "mobility one")
    assert teeth_charted(one) == [201, 202, 203] * 2


# What is put right

BEFORE_AND_CHANGE = [
    (["two oh eight pocket five"], "correction pocket four", ["208 pocket 4 mm"]),
    (["two oh eight pocket five"], "change two oh eight pocket to four", ["208 pocket 4 mm"]),
    (
        ["two oh eight pocket five mesial pocket six distal"],
        "change two oh eight mesial pocket to four",
        ["208 pocket 6 mm distal", "208 pocket 4 mm mesial"],
    ),
    (
        ["two oh one to two oh three calculus two"],
        "change calculus to one",
        ["201 calculus 1", "202 calculus 1", "203 calculus 1"],
    ),
    (
        ["two oh one to two oh three calculus two"],
        "correction calculus one",
        ["201 calculus 1", "202 calculus 1", "203 calculus 1"],
    ),
    (["two oh eight calculus two"], "correction two oh seven", ["207 calculus 2"]),
    (
        ["two oh eight calculus two", "two oh nine calculus three"],
        "change two oh eight calculus to one",
        ["209 calculus 3", "208 calculus 1"],
    ),
    (["two oh eight fractured"], "change fracture to root fracture", ["208 fracture RF"]),
    (
        ["two oh eight calculus two mobility one"],
        "clear two oh eight calculus",
        ["208 mobility 1"],
    ),
    (["two oh eight missing"], "not missing", []),
    (["two oh eight missing", "two oh nine"], "two oh eight not missing", []),
]


@pytest.mark.parametrize(("said", "change", "stands"), BEFORE_AND_CHANGE)
def test_what_was_wrong_is_put_right(said, change, stands):
    one = after(*said)
    assert say(one, change) == ["charted"]
    assert charted(one) == stands


@pytest.mark.parametrize(("said", "change", "stands"), BEFORE_AND_CHANGE)
def test_undo_of_what_was_put_right_restores_the_chart_exactly(said, change, stands):
    one = after(*said)
    before = one.chart
    say(one, change, "undo")
    assert one.chart == before


def test_a_change_leaves_the_tooth_in_hand():
    one = after("two oh eight calculus two", "two oh nine calculus three")
    say(one, "change two oh eight calculus to one", "mobility one")
    assert charted(one)[-1] == "209 mobility 1"


def test_a_change_of_a_site_that_was_not_charted_is_refused():
    one = after("two oh eight pocket five mesial")
    assert say(one, "change two oh eight distal pocket to four") == ["refused"]
    assert charted(one) == ["208 pocket 5 mm mesial"]


def test_to_clear_a_tooth_is_asked_about_first():
    one = after("two oh eight calculus two mobility one")
    before = one.chart
    heard = hear(one, "clear two oh eight")
    assert (heard.outcome, heard.reason) == ("query", "Clear 208: calculus 2, mobility 1?")
    assert one.chart.findings == before.findings
    say(one, "yes")
    assert charted(one) == []
    say(one, "undo")
    assert one.chart == before


def test_a_tooth_that_was_not_to_be_cleared_is_kept():
    one = after("two oh eight calculus two")
    assert say(one, "clear this tooth", "no") == ["query", "charted"]
    assert charted(one) == ["208 calculus 2"]


def test_a_clearing_that_was_asked_about_takes_no_more_than_it_named():
    one = after("two oh eight calculus two")
    say(one, "clear two oh eight", "pocket five mesial", "yes")
    assert "208 pocket 5 mm mesial" in charted(one)


@pytest.mark.parametrize(
    ("first", "second"),
    [("pocket five mesial", "pocket four mesial"), ("calculus two", "calculus three")],
)
def test_a_second_value_at_the_same_place_is_asked_about(first, second):
    one = after("two oh eight", first)
    heard = hear(one, second)
    assert heard.outcome == "query"
    assert heard.reason and "Replace by" in heard.reason
    assert charted(one) == [f"208 {one.chart.findings[0].words()}"]
    say(one, "no")
    assert one.chart.findings[0].value in (5, 2)


def test_a_second_value_that_is_confirmed_replaces_the_first():
    one = after("two oh eight pocket five mesial")
    before = one.chart
    assert say(one, "pocket four mesial", "yes") == ["query", "charted"]
    assert charted(one) == ["208 pocket 4 mm mesial"]
    say(one, "undo")
    assert one.chart == before


@pytest.mark.parametrize("correction", ["correction calculus one", "change calculus to one"])
def test_a_correction_right_after_the_question_is_not_asked_about_again(correction):
    one = after("two oh eight calculus two")
    assert say(one, "calculus three", correction) == ["query", "charted"]
    assert charted(one) == ["208 calculus 1"]
    assert one.doubts == ()


def test_the_same_value_once_more_is_not_asked_about():
    assert charted(after("two oh eight pocket five", "pocket five")) == ["208 pocket 5 mm"]


# The head


def test_head_examination_normal_covers_what_was_not_spoken():
    one = after("go to awake examination", "left lymph node enlarged", "head examination normal")
    stated = [each for each in one.chart.observations if not each.covered]
    assert [each.words() for each in stated] == ["left mandibular lymph node enlarged"]
    covered = [each for each in one.chart.observations if each.covered]
    assert all(each.value == "normal" and each.row.section == "head" for each in covered)
    assert ("lymph_node", "right") in {(each.kind, each.place) for each in covered}


def test_what_was_covered_gives_way_to_what_is_stated_unasked():
    one = after("go to awake examination", "head examination normal")
    assert say(one, "right ear painful") == ["charted"]
    right_ear = [each for each in one.chart.observations if each.place == "right"]
    assert [(each.value, each.covered) for each in right_ear if each.kind == "ear"] == [
        ("painful", False)
    ]


def test_what_was_stated_normal_is_asked_about():
    one = after("go to awake examination", "ears normal")
    heard = hear(one, "right ear painful")
    assert heard.outcome == "query"
    assert seen(one) == ["left ear normal", "right ear normal"]


def test_where_all_is_stated_nothing_is_left_to_cover():
    one = after("go to awake examination", "head examination normal")
    assert hear(one, "head examination normal").rule == "covered"


# The dentition


def test_in_a_deciduous_dentition_the_upper_left_canine_is_604():
    # Source: modified Triadan system, Floyd 1991: deciduous quadrants 5 to 8.
    one = after("deciduous dentition", "upper left canine", "calculus one")
    assert charted(one) == ["604 calculus 1"]


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_next_tooth_goes_along_the_deciduous_arch(species):
    # Source: modified Triadan system, Floyd 1991: no deciduous x05.
    one = after("deciduous dentition", "upper left canine", species=species)
    reached = []
    for _ in range(3):
        assert say(one, "next tooth") == ["charted"]
        reached.append(one.chart.tooth_in_hand)
    assert reached == [606, 607, 608]


def test_in_the_permanent_dentition_the_upper_left_canine_is_204():
    assert after("upper left canine").chart.tooth_in_hand == 204


def test_a_stated_dentition_is_undone_like_anything_else():
    one = after("deciduous dentition")
    say(one, "undo")
    assert one.chart.dentition == "permanent"


# The parts of the visit


@pytest.mark.parametrize("context", GO_TO)
def test_each_part_of_the_visit_listens_for_its_own(context):
    assert after(GO_TO[context]).listening_for == context


def is_said_in(context: str, text: str) -> bool:
    ways = (text, f"two oh eight {text}")
    return any(LANGUAGES[context].allows(way.split()) for way in ways)


IN_ANOTHER_PART = [
    (forms[0].context, context, forms[0].form.sentence())
    for forms in spoken_forms(LANGUAGES).values()
    for context in GO_TO
    if not is_said_in(context, forms[0].form.sentence())
]
ANOTHER_PART = [(here, there) for here in GO_TO for there in GO_TO if here != there]


def test_there_are_findings_of_every_part_to_say_in_another():
    assert {(here, there) for here, there, _ in IN_ANOTHER_PART} == set(ANOTHER_PART)


@pytest.mark.parametrize(("belongs", "context", "said"), IN_ANOTHER_PART)
def test_what_is_said_in_the_wrong_part_changes_nothing(belongs, context, said):
    one = after("two oh eight", GO_TO[context])
    before = one.chart
    heard = hear(one, said)
    assert heard.outcome in ("refused", "query")
    assert heard.reason
    assert one.chart == before


@pytest.mark.parametrize(("belongs", "context"), ANOTHER_PART)
def test_what_is_said_in_the_wrong_part_is_refused_and_not_bent(belongs, context):
    # "Muzzle sensation absent" is no missing tooth, and "tongue normal" no normal one: a "yes" to
    # the question that it raises must not make it one.
    bent = {}
    for here, there, said in IN_ANOTHER_PART:
        if (here, there) == (belongs, context):
            one = after("two oh eight", GO_TO[context])
            outcome = hear(one, said).outcome
            hear(one, "yes")
            if outcome != "refused" or charted(one) or seen(one):
                bent[said] = [*charted(one), *seen(one)]
    assert bent == {}


@pytest.mark.parametrize("context", GO_TO)
@pytest.mark.parametrize(
    ("typed", "stands"),
    [
        ("208 linguoversion", "208 malposition LV"),
        ("208 pocket 5", "208 pocket 5 mm"),
        ("208 TRT 2", "208 resorption type 2"),
        ("208 XSS", "208 extracted XSS"),
    ],
)
def test_what_is_typed_is_understood_in_every_part_of_the_visit(context, typed, stands):
    one = after(GO_TO[context])
    assert one.type_text(typed).outcome == "charted"
    assert charted(one) == [stands]


# Notes


def spoken_note(one: Session, words: str):
    samples = np.zeros(16000, dtype=np.float32)
    audio = UtteranceAudio(samples=samples, start_s=3.0, end_s=4.0)
    return one.hear(Hypothesis(words, trust="doubtful", engine="vosk"), audio)


def test_words_after_take_a_note_are_an_unverified_note_on_the_tooth_in_hand():
    one = after("two oh eight", "take a note")
    assert one.listening_for == "note"
    assert spoken_note(one, "owner saw it two oh nine missing last week").outcome == "charted"
    (note,) = one.chart.notes
    assert (note.text, note.tooth, note.verified) == (
        "owner saw it two oh nine missing last week",
        208,
        False,
    )
    assert charted(one) == []
    assert one.listening_for == "charting"


def test_a_note_is_undone_like_anything_else():
    one = after("two oh eight", "take a note")
    spoken_note(one, "chews stones")
    say(one, "undo")
    assert one.chart.notes == ()


def test_a_note_without_a_tooth_belongs_to_the_visit():
    one = after("take a note")
    spoken_note(one, "chews stones")
    assert one.chart.notes[0].tooth is None


# Laws

COMMON = st.sampled_from(
    (
        *GO_TO.values(),
        *("208", "307", "104", "604", "next tooth", "skip", "previous tooth"),
        *("208 missing", "not missing", "normal", "208 normal", "unerupted", "retained root"),
        *("calculus 2", "calculus 3", "pocket 5 mesial", "pocket 4 mesial", "mesial pocket 6"),
        *("furcation 2", "furcation 1 buccal", "buccal 3 2 4", "palatal 2 2 2", "mobility 1"),
        *("resorption stage 4a", "resorption type 2", "fractured", "CCF", "root fracture"),
        *("extracted", "208 XSS", "sutured", "scaled", "radiographed", "radiograph normal"),
        *("201 to 203 calculus 1", "all upper left mobility 0", "rest of the mouth plaque 1"),
        *("correction pocket 3", "correction 207", "change calculus to 1", "clear 208"),
        *("clear 208 pocket", "deciduous dentition", "mixed dentition", "yes", "no"),
        *("head examination normal", "left ear painful", "ears normal", "soft tissue normal"),
        *("mass tongue 5", "mass tongue near 208 7", "ulcer tongue 3", "tongue injured"),
        *("left infraorbital block", "correction right ear normal", "root length 14"),
    )
)


def sampled(context: str, number: int) -> str:
    return sentence(LANGUAGES[context].rules, LANGUAGES[context].root, Random(number), more=0.2)


SAMPLED = st.builds(sampled, st.sampled_from(list(GO_TO)), st.integers(0, 5000))
PHRASES = COMMON | SAMPLED
SPECIES = st.sampled_from(("dog", "cat"))


HISTORY = (["undo"], ["redo"], ["scratch"], ["take"])
"""How the phrases begin that take back or put back, and the one that asks for a note."""


def play(one: Session, phrases) -> None:
    for phrase in phrases:
        one.type_text(phrase)


@given(SPECIES, st.lists(PHRASES, max_size=10), st.lists(PHRASES, min_size=1, max_size=10))
@settings(deadline=None, max_examples=150)
def test_undo_of_any_run_of_phrases_restores_the_chart_before(species, first, then):
    one = session(species)
    play(one, first)
    before, standing = one.chart, len(standing_utterances(one.events))
    play(one, [phrase for phrase in then if phrase.split()[:1] not in HISTORY])
    end = one.chart
    undone = 0
    while len(standing_utterances(one.events)) > standing:
        number = len(standing_utterances(one.events))
        one.type_text("undo")
        undone += len(standing_utterances(one.events)) < number
    assert one.chart == before
    for _ in range(undone):
        one.type_text("redo")
    assert one.chart == end


DISTINCT = (
    *("208 pocket 3 mesial", "208 pocket 4 buccal", "208 pocket 5 distal"),
    *(f"{tooth} {said}" for tooth in (208, 309, 107) for said in ("calculus 2", "furcation 1")),
    *("208 CCF", "309 TR 4a", "107 mobility 0", "107 root length 14"),
    *("104 missing", "203 normal", "405 XSS", "201 to 202 plaque 1", "309 recession 2 lingual"),
    *("left ear painful", "left ear inflamed", "right ear normal", "moderate odor", "level bite"),
    *("mass tongue 5 by 7", "mass upper gum 3", "mild stomatitis left cheek", "604 scaled"),
    *("left infraorbital block", "left mental block", "full mouth radiographs"),
    *("309 horizontal bone loss 30", "left tonsil enlarged"),
)


@given(st.lists(st.sampled_from(DISTINCT), unique=True, min_size=2, max_size=10), st.randoms())
@settings(deadline=None, max_examples=100)
def test_any_order_of_the_same_findings_gives_the_same_findings(phrases, random):
    one, other = session(), session()
    shuffled = random.sample(phrases, len(phrases))
    for here, order in ((one, phrases), (other, shuffled)):
        assert [here.type_text(phrase).outcome for phrase in order] == ["charted"] * len(order)
    assert set(one.chart.findings) == set(other.chart.findings)
    assert set(one.chart.observations) == set(other.chart.observations)


def impossible(chart: Chart) -> list[str]:
    """What stands in a chart that could not have been added to the rest of it."""
    found = []
    for finding in chart.findings:
        rest = tuple(each for each in chart.findings if each != finding)
        without = chart.model_copy(update={"findings": rest})
        found.append(objection_to_finding(without, finding, correcting=True))
    for observation in chart.observations:
        others = tuple(each for each in chart.observations if each != observation)
        without = chart.model_copy(update={"observations": others})
        found.append(objection_to_observation(without, observation, correcting=True))
    return [each.sentence for each in found if each and each.verdict == "impossible"]


@given(SPECIES, st.lists(PHRASES, max_size=15))
@settings(deadline=None, max_examples=200)
def test_no_run_of_phrases_puts_an_impossible_fact_into_the_chart(species, phrases):
    one = session(species)
    play(one, phrases)
    assert impossible(one.chart) == []
    places = [finding.place for finding in one.chart.findings]
    assert len(places) == len(set(places))
    identities = [observation.identity for observation in one.chart.observations]
    assert len(identities) == len(set(identities))
