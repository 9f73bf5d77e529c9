"""What phrases would do to a chart: the teeth they mean, what is taken back, and every refusal."""

import pytest

from dictate.chart.events import ToothChosen
from dictate.chart.observation import Observation
from dictate.chart.plan import plan_statements
from dictate.chart.rules import Objection
from tests.test_chart_rules import DOG, impossible
from tests.test_correction_rules import SOFT_TISSUE
from tests.test_session import charted, say, session

RADIOGRAPHS, TREATMENT = "go to radiographs", "go to treatment"
YOUNG, MIXED = "deciduous dentition", "mixed dentition"


@pytest.mark.parametrize(
    ("said", "phrase", "teeth"),
    [
        # Order and dentitions: modified Triadan system, Floyd 1991.
        ([], "201 to 203", (201, 202, 203)),
        ([], "203 to 201", (201, 202, 203)),
        ([], "102 to 201", (102, 101, 201)),
        ([], "601 to 603", (601, 602, 603)),
        ([], "311 to 309", (311, 310, 309)),
        ([], "all upper incisors", (103, 102, 101, 201, 202, 203)),
        ([], "all canines", (104, 204, 304, 404)),
        ([], "all lower left molars", (311, 310, 309)),
        ([], "all upper right premolars", (108, 107, 106, 105)),
        ([YOUNG], "all upper right premolars", (508, 507, 506)),
        ([YOUNG], "upper left canine", (604,)),
        ([YOUNG], "204", (204,)),
        ([YOUNG], "upper left first molar", (209,)),
        ([YOUNG], "upper left deciduous canine", (604,)),
        ([MIXED], "upper left first molar", (209,)),
        ([MIXED], "204", (204,)),
        ([], "upper left canine", (204,)),
        (["201 calculus 1", "202", "skip"], "rest of the upper left incisors", (203,)),
        (["201 calculus 1", RADIOGRAPHS], "rest of the upper left incisors", (201, 202, 203)),
        (
            ["201 missing", "202 retained root", RADIOGRAPHS, "203 periapical lucency"],
            "rest of the upper incisors",
            (103, 102, 101),
        ),
        ([TREATMENT, "103 scaled"], "rest of the upper right incisors", (102, 101)),
        # The rest are those without a finding of the section of what is said of them.
        (["103 calculus 1"], "rest of the upper right incisors scaled", (103, 102, 101)),
        (["103 calculus 1"], "rest of the upper right incisors", (102, 101)),
        # From a tooth of the other dentition the order is that of the tooth at its place.
        (["604"], "next tooth", (205,)),
        ([YOUNG, "204"], "next tooth", (606,)),
        ([YOUNG, "604"], "previous tooth", (603,)),
    ],
)
def test_a_phrase_takes_these_teeth_in_hand(said, phrase, teeth):
    one = session()
    say(one, *said)
    assert one.type_text(phrase).outcome == "charted"
    assert one.chart.teeth_in_hand == teeth


@pytest.mark.parametrize(
    ("species", "said", "phrase", "rule", "reason"),
    [
        ("cat", [], "204 to 205", "dentition", "A cat has no 205."),
        ("cat", [], "205 to 204", "dentition", "A cat has no 205."),
        (
            "dog",
            [],
            "201 to 303",
            "range",
            "A range stays within one jaw and one dentition: say two ranges.",
        ),
        (
            "dog",
            [],
            "201 to 603",
            "range",
            "A range stays within one jaw and one dentition: say two ranges.",
        ),
        ("dog", [YOUNG], "all molars", "range", "There is no such tooth in this mouth."),
        (
            "dog",
            ["201 to 203", "calculus 1"],
            "rest of the upper left incisors",
            "range",
            "No tooth is left.",
        ),
        ("dog", [], "calculus 1", "tooth", "No tooth is in hand: say its number first."),
        ("dog", [], "not missing", "tooth", "No tooth is in hand: say its number first."),
        ("dog", [], "next tooth", "tooth", "No tooth is in hand: say the number of a tooth."),
        ("dog", ["411"], "next tooth", "tooth", "The arch ends here: say the number of a tooth."),
        ("cat", [], "clear 205", "dentition", "A cat has no 205."),
        (
            "dog",
            ["208 calculus 1"],
            "clear 209",
            "clear",
            "209 is not charted with anything: nothing to take back.",
        ),
        (
            "dog",
            ["208 calculus 1"],
            "208 not missing",
            "clear",
            "208 is not charted with missing: nothing to take back.",
        ),
        (
            "dog",
            ["201 missing", "202 missing", "201 to 202"],
            "calculus 1",
            "missing",
            "All of these teeth are charted missing.",
        ),
        (
            "dog",
            ["201 missing"],
            "calculus 1",
            "missing",
            "201 is charted missing: it takes no findings.",
        ),
        ("dog", [], "open the chart again", "closed", "The chart is not closed."),
        (
            "dog",
            ["close the chart", "yes"],
            "close the chart",
            "closed",
            "The chart is closed already.",
        ),
        (
            "dog",
            ["close the chart", "yes"],
            "208 calculus 1",
            "closed",
            "The chart is closed as final: say “open the chart again” first.",
        ),
    ],
)
def test_a_phrase_is_refused_and_changes_nothing(species, said, phrase, rule, reason):
    one = session(species)
    say(one, *said)
    before = one.chart.findings, one.chart.teeth_in_hand
    heard = one.type_text(phrase)
    assert (heard.outcome, heard.rule, heard.reason) == ("refused", rule, reason)
    assert (one.chart.findings, one.chart.teeth_in_hand) == before


@pytest.mark.parametrize(
    ("said", "phrase", "rule", "question", "then"),
    [
        (["208 calculus 2 plaque 1"], "clear 208", "clear", "Clear 208: calculus 2, plaque 1?", []),
        (
            [MIXED],
            "upper left canine calculus 1",
            "dentition",
            "The permanent 204, or the deciduous 604? Yes means 204.",
            ["204 calculus 1"],
        ),
        (
            ["208 calculus 1"],
            "close the chart",
            "close",
            "Close the chart as final? What is changed later is an addendum.",
            ["208 calculus 1"],
        ),
        (
            ["208 calculus 1", "209 calculus 2"],
            "208 calculus 3 209 calculus 3",
            "replace",
            "208 has calculus 1. Replace by calculus 3? 209 has calculus 2. Replace by calculus 3?",
            ["208 calculus 3", "209 calculus 3"],
        ),
    ],
)
def test_a_phrase_is_asked_about_and_done_after_yes(said, phrase, rule, question, then):
    one = session()
    say(one, *said)
    before = charted(one)
    heard = one.type_text(phrase)
    assert (heard.outcome, heard.reason, charted(one)) == ("query", question, before)
    statements = [
        {**each, "by_name": each["statement"] == "tooth" and one.chart.dentition == "mixed"}
        for each in heard.statements
    ]
    assert plan_statements(one.chart, statements).objection == Objection("ask", rule, question)
    say(one, "yes")
    assert charted(one) == then


def test_a_chart_that_was_closed_is_opened_again():
    one = session()
    say(one, "close the chart", "yes", "open the chart again")
    assert say(one, "208 calculus 1") == ["charted"]
    reopened = plan_statements(DOG, [{"statement": "reopen"}])
    assert reopened.objection == impossible("closed", "The chart is not closed.")


@pytest.mark.parametrize(
    ("phrase", "left"),
    [
        ("clear 208 calculus", ["208 plaque 1", "209 calculus 1"]),
        ("clear 209 calculus", ["208 calculus 2", "208 plaque 1"]),
        ("208 to 209", ["208 calculus 2", "208 plaque 1", "209 calculus 1"]),
    ],
)
def test_of_one_kind_a_finding_is_taken_back_unasked(phrase, left):
    one = session()
    say(one, "208 calculus 2 plaque 1 209 calculus 1")
    assert one.type_text(phrase).outcome == "charted"
    assert charted(one) == left


def test_what_was_not_asked_about_is_not_cleared():
    one = session()
    say(one, "208 calculus 2 plaque 1")
    calculus = one.chart.findings[0].model_dump()
    clear = {"statement": "clear", "tooth": 208, "kind": None, "gone": [calculus]}
    (happening,) = plan_statements(one.chart, [clear]).happenings
    assert [each.words() for each in happening.replaced] == ["calculus 2"]


def test_what_is_not_charted_is_named_in_words():
    clear = {"statement": "clear", "tooth": 208, "kind": "root_length"}
    assert plan_statements(DOG, [clear]).objection == impossible(
        "clear", "208 is not charted with root length: nothing to take back."
    )


def test_a_range_with_missing_teeth_leaves_them_out_by_their_numbers():
    one = session()
    say(one, "201 missing", "202 missing", "201 to 203")
    heard = one.type_text("calculus 1")
    assert charted(one) == ["201 missing", "202 missing", "203 calculus 1"]
    assert "Left out, charted missing: 201, 202." in str(heard)


def test_a_gap_in_a_range_takes_what_may_be_found_in_it():
    # Source: with_root in findings.toml: common practice, no source.
    one = session()
    say(one, "201 missing", "202 calculus 1", "201 to 203")
    assert one.type_text("missing").outcome == "refused"
    say(one, "201 to 202", "retained root")
    assert charted(one)[2:] == ["201 retained root", "202 retained root"]
    say(one, "draining tract")
    assert charted(one)[4:] == ["201 draining tract", "202 draining tract"]


def test_teeth_that_are_missing_already_are_not_left_out_of_missing_ones():
    one = session()
    say(one, "201 missing", "201 to 203")
    assert "Left out" not in str(one.type_text("missing"))
    assert charted(one) == ["201 missing", "202 missing", "203 missing"]


def calculus(tooth: int | None, grade: int = 1) -> dict:
    found = {"tooth": tooth, "kind": "calculus", "value": grade, "unit": None, "site": None}
    return {"statement": "finding", "finding": found}


@pytest.mark.parametrize(
    ("before", "leans"),
    [
        ([], True),
        ([{"statement": "tooth", "tooth": 209}], False),
        ([{"statement": "tooth", "tooth": 212}], False),
        ([{"statement": "teeth", "first": 201, "last": 202}], False),
        ([{"statement": "teeth", "first": 201, "last": 301}], False),
    ],
)
def test_what_follows_another_tooth_does_not_lean_on_the_one_in_hand(before, leans):
    in_hand = DOG.after(ToothChosen(tooth=208))
    assert plan_statements(in_hand, [*before, calculus(None)]).leans is leans
    assert not plan_statements(in_hand, [*before, calculus(209)]).leans


def test_a_finding_goes_to_the_tooth_that_it_names():
    plan = plan_statements(DOG.after(ToothChosen(tooth=208)), [calculus(209)])
    assert [each.tooth for happening in plan.happenings for each in happening.findings] == [209]


def test_of_a_finding_that_cannot_be_nothing_would_happen():
    plan = plan_statements(DOG, [calculus(208, grade=9)])
    assert (plan.happenings, plan.objection.verdict) == ((), "impossible")


@pytest.mark.parametrize(
    ("said", "phrase", "kept"),
    [
        (
            [],
            "201 to 202",
            [{"statement": "teeth", "first": 201, "last": 202, "teeth": [201, 202]}],
        ),
        ([], "201 to 301", [{"statement": "teeth", "first": 201, "last": 301}]),
        (["208"], "next tooth", [{"statement": "next", "tooth": 209}]),
        (["208"], "previous tooth", [{"statement": "previous", "tooth": 207}]),
        (["208"], "skip", [{"statement": "skip", "tooth": 209}]),
        ([], "next tooth", [{"statement": "next"}]),
        ([], YOUNG, [{"statement": "dentition", "about": "deciduous"}]),
        ([], "open the chart again", [{"statement": "reopen"}]),
        (
            [],
            "calculus 1",
            [calculus(None)],
        ),
        ([YOUNG], "upper left canine", [{"statement": "tooth", "tooth": 604}]),
        (
            ["208 missing"],
            "not missing",
            [
                {
                    "statement": "clear",
                    "tooth": 208,
                    "kind": "missing",
                    "gone": [
                        {"tooth": 208, "kind": "missing", "value": None, "unit": None, "site": None}
                    ],
                }
            ],
        ),
    ],
)
def test_a_phrase_is_kept_with_the_teeth_that_it_was_taken_for(said, phrase, kept):
    one = session()
    say(one, *said)
    one.type_text(phrase)
    assert list(one.heard[-1].what.statements) == kept


def test_a_phrase_that_leaves_the_chart_alone_is_kept_as_it_is():
    assert plan_statements(DOG, [{"statement": "note"}]).statements == ({"statement": "note"},)


def test_teeth_that_were_asked_about_are_those_and_not_what_is_left_by_now():
    said = {"statement": "teeth", "group": "rest", "teeth": [201, 203]}
    (happening,) = plan_statements(DOG, [said]).happenings
    assert happening.teeth == (201, 203)


@pytest.mark.parametrize("phrase", ["205 calculus 1", "204 to 205 calculus 1"])
def test_after_teeth_that_cannot_be_nothing_leans_on_the_tooth_in_hand(phrase):
    one = session("cat")
    say(one, "204")
    heard = one.type_text(phrase)
    assert (heard.rule, charted(one)) == ("dentition", [])


def test_closing_names_the_clinician_in_whose_name_it_is():
    plan = plan_statements(DOG, [{"statement": "close", "by": "Dr. Vega"}])
    assert plan.objection.verdict == "ask"
    assert plan.objection.rule == "close"
    assert plan.objection.sentence == (
        "Close the chart as final in the name of Dr. Vega? What is changed later is an addendum."
    )
    assert [each.by for each in plan.happenings] == ["Dr. Vega"]
    (unnamed,) = plan_statements(DOG, [{"statement": "close"}]).happenings
    assert unnamed.by == ""


def test_an_observation_is_taken_back_only_as_it_stands():
    one = session()
    say(one, SOFT_TISSUE, "mass tongue 5 mm")
    (mass,) = one.chart.observations

    def taking_back(observation: Observation):
        data = observation.model_dump(mode="json")
        clear = {"statement": "clear", "observation": data}
        plan = plan_statements(one.chart, [clear])
        assert plan.statements == (clear,)
        return plan

    assert taking_back(mass).objection is None
    assert [each.replaced for each in taking_back(mass).happenings] == [(mass,)]
    other = taking_back(mass.model_copy(update={"size_mm": (6.0,)}))
    assert other.happenings == ()
    assert (other.objection.verdict, other.objection.rule, other.objection.sentence) == (
        "impossible",
        "clear",
        "tongue mass 6 mm does not stand: nothing to take back.",
    )
