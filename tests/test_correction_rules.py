"""Corrections, moves and teeth left out: what is put right, and what is said where it cannot be."""

import pytest

from dictate.chart.observation import Observation
from tests.test_session import charted, say, session


def refusal(one, phrase: str) -> str | None:
    heard = one.type_text(phrase)
    assert heard.outcome == "refused"
    return heard.reason


def observed(one) -> list[tuple]:
    return [(each.kind, each.value, each.place) for each in one.chart.observations]


def test_a_correction_to_another_tooth_moves_what_was_charted_last():
    one = session()
    say(one, "208 calculus 2", "correction 209")
    assert charted(one) == ["209 calculus 2"]
    assert one.chart.tooth_in_hand == 209


def test_nothing_moves_where_nothing_was_charted():
    one = session()
    say(one, "208")
    assert refusal(one, "correction 209") == (
        "The last utterance charted nothing that could move to another tooth."
    )


def test_what_was_charted_on_two_teeth_does_not_move():
    one = session()
    say(one, "208 calculus 2 209 calculus 1")
    assert refusal(one, "correction 107") == (
        "The last utterance charted several teeth: say undo, then say it again."
    )
    assert charted(one) == ["208 calculus 2", "209 calculus 1"]


def test_of_several_sites_the_one_to_change_is_named():
    one = session()
    say(one, "208 pocket 3 mesial", "pocket 4 distal")
    assert refusal(one, "change 208 pocket to 5") == "208 has pocket at several sites: say which."
    assert charted(one) == ["208 pocket 3 mm mesial", "208 pocket 4 mm distal"]
    say(one, "change 208 pocket mesial to 5")
    assert sorted(charted(one)) == ["208 pocket 4 mm distal", "208 pocket 5 mm mesial"]


def test_of_several_teeth_in_hand_only_those_that_carry_it_are_corrected():
    one = session()
    say(one, "202 calculus 1", "203 calculus 1", "201 to 203", "change calculus to 3")
    assert sorted(charted(one)) == ["202 calculus 3", "203 calculus 3"]


@pytest.mark.parametrize(
    ("said", "correction", "stands"),
    [
        (["208 calculus 2"], "209 calculus 3", ["209 calculus 3"]),
        (["208 calculus 2"], "gingivitis 2", ["208 gingivitis 2"]),
        (["208 normal"], "calculus 2", ["208 calculus 2"]),
        (["208 calculus 2"], "missing", ["208 missing"]),
        (["208 calculus 2", "plaque 1"], "gingivitis 2", ["208 calculus 2", "208 gingivitis 2"]),
        (["208 calculus 2", "plaque 1"], "calculus 1", ["208 calculus 1", "208 plaque 1"]),
        (
            ["209 calculus 2", "208 plaque 1"],
            "208 calculus 1",
            ["208 calculus 1", "209 calculus 2"],
        ),
        (["208 pocket 3 mesial"], "pocket 4 distal", ["208 pocket 4 mm distal"]),
        (
            ["208 pocket 3 mesial", "calculus 1"],
            "pocket 4 distal",
            ["208 pocket 3 mm mesial", "208 pocket 4 mm distal"],
        ),
        (
            ["208 pocket 3 mesial pocket 5 buccal"],
            "pocket 4 distal",
            ["208 pocket 3 mm mesial", "208 pocket 4 mm distal"],
        ),
        (
            ["208 pocket 3 mesial", "pocket 5 buccal"],
            "pocket 6",
            ["208 pocket 3 mm mesial", "208 pocket 6 mm buccal"],
        ),
        (
            ["208 pocket 3 mesial", "pocket 5 buccal"],
            "pocket 6 mesial",
            ["208 pocket 5 mm buccal", "208 pocket 6 mm mesial"],
        ),
    ],
)
def test_a_finding_takes_the_place_of_the_one_that_the_correction_means(said, correction, stands):
    one = session()
    say(one, *said)
    assert one.type_text(f"correction {correction}").outcome == "charted"
    assert sorted(charted(one)) == stands


@pytest.mark.parametrize(
    "phrase", ["correction", "correction next tooth", "correction all incisors"]
)
def test_a_correction_says_what_it_should_be(phrase):
    one = session()
    say(one, "208 calculus 2")
    heard = one.type_text(phrase)
    assert (heard.outcome, heard.rule) == ("refused", "correction")
    assert heard.reason == "Say what it should be, after “correction”."
    assert (charted(one), one.chart.teeth_in_hand) == (["208 calculus 2"], (208,))


def test_of_two_teeth_in_hand_only_the_one_that_carries_it_is_corrected():
    one = session()
    say(one, "202 calculus 1", "201 to 202", "change calculus to 3")
    assert charted(one) == ["202 calculus 3"]


def test_a_tooth_that_is_named_is_corrected_whichever_is_in_hand():
    one = session()
    say(one, "202 calculus 1 204 calculus 2", "change 202 calculus to 3")
    assert sorted(charted(one)) == ["202 calculus 3", "204 calculus 2"]


def test_a_correction_is_kept_with_the_tooth_and_the_site_that_it_was_taken_for():
    one = session()
    say(one, "208 pocket 3 mesial", "correction pocket 4")
    pocket = {"tooth": 208, "kind": "pocket", "value": 4, "unit": "mm", "site": "mesial"}
    assert one.heard[-1].what.statements == (
        {"statement": "correction"},
        {"statement": "finding", "finding": pocket},
    )


def test_the_correction_of_an_observation_is_kept_with_the_side_that_it_was_taken_for():
    one = session()
    say(one, "go to awake examination", "left ear painful", "correction ear normal")
    _, kept = one.heard[-1].what.statements
    assert kept["statement"] == "observation"
    assert kept["observation"] == Observation(kind="ear", value="normal", place="left").model_dump(
        mode="json"
    )


def test_what_is_not_there_cannot_be_corrected():
    one = session()
    assert refusal(one, "correction calculus 2") == (
        "There is no calculus on the tooth in hand to correct."
    )
    say(one, "208")
    assert refusal(one, "correction calculus 2") == "There is no calculus on 208 to correct."
    assert refusal(one, "correction enamel defect") == (
        "There is no enamel defect on 208 to correct."
    )


def test_a_correction_may_not_make_what_cannot_be():
    one = session()
    say(one, "208 calculus 2")
    assert refusal(one, "correction calculus 9") == "Calculus index takes 0 to 4, not 9."
    assert charted(one) == ["208 calculus 2"]


def test_an_observation_takes_the_place_of_the_one_just_made_at_its_place():
    one = session()
    say(one, "go to awake examination", "left lymph node enlarged")
    before = observed(one)
    say(one, "correction left lymph node normal")
    assert [(kind, place) for kind, _, place in observed(one)] == [
        (kind, place) for kind, _, place in before
    ]
    assert observed(one) != before


def test_an_observation_that_was_not_made_cannot_be_corrected():
    one = session()
    say(one, "go to awake examination")
    reason = refusal(one, "correction left lymph node enlarged")
    assert reason is not None and reason.startswith("There is no ")
    assert reason.endswith(" to correct.") and "_" not in reason
    assert observed(one) == []


AWAKE, SOFT_TISSUE, TREATMENT = (
    "go to awake examination",
    "go to soft tissue",
    "go to treatment",
)


@pytest.mark.parametrize(
    ("part", "said", "correction", "stands"),
    [
        # A side that is not named is that of what was seen last; else all that carry one are meant.
        (AWAKE, ["left ear painful"], "ear normal", ["left ear normal"]),
        (AWAKE, ["ears painful"], "ears normal", ["left ear normal", "right ear normal"]),
        (AWAKE, ["ears painful"], "left ear normal", ["left ear normal", "right ear painful"]),
        (
            AWAKE,
            ["left ear painful right ear inflamed"],
            "ears normal",
            ["left ear normal", "right ear normal"],
        ),
        (
            AWAKE,
            ["left ear painful", "right eye red"],
            "ears inflamed",
            ["left ear inflamed", "right eye red"],
        ),
        (
            AWAKE,
            ["right ear painful", "left ear painful"],
            "ear inflamed",
            ["left ear inflamed", "right ear painful"],
        ),
        (AWAKE, ["left ear painful"], "right ear painful", ["right ear painful"]),
        (
            AWAKE,
            ["left ear painful", "right ear painful", "right eye red"],
            "left ear inflamed",
            ["left ear inflamed", "right ear painful", "right eye red"],
        ),
        (SOFT_TISSUE, ["mass tongue 5 mm red"], "mass tongue 7 mm", ["tongue mass 7 mm"]),
        (
            SOFT_TISSUE,
            ["mass tongue near 208 5 mm"],
            "mass hard palate near 109 5 mm",
            ["hard palate mass at 109 5 mm"],
        ),
        (
            SOFT_TISSUE,
            ["mass tongue 5 mm mass hard palate 3 mm ulcer tongue"],
            "mass hard palate 4 mm",
            ["hard palate mass 4 mm", "tongue mass 5 mm", "tongue ulcer"],
        ),
        (SOFT_TISSUE, ["tongue swollen"], "tongue normal", ["tongue normal"]),
        (
            TREATMENT,
            ["left mental block lidocaine 1 ml"],
            "left mental block bupivacaine 0.25 ml",
            ["left regional block mental (middle) bupivacaine 0.25 mL"],
        ),
    ],
)
def test_an_observation_is_put_right_where_it_was_made(part, said, correction, stands):
    one = session()
    say(one, part, *said)
    assert one.type_text(f"correction {correction}").outcome == "charted"
    assert sorted(each.words() for each in one.chart.observations) == sorted(stands)


@pytest.mark.parametrize(
    ("part", "said", "correction", "reason"),
    [
        (AWAKE, ["left ear painful"], "lymph nodes normal", "There is no lymph node to correct."),
        (
            SOFT_TISSUE,
            ["mass tongue 5 mm", "ulcer tongue"],
            "mass soft palate 4 mm",
            "There is no mass to correct.",
        ),
        (
            SOFT_TISSUE,
            ["mass tongue 5 mm"],
            "mass tongue 0 mm",
            "A size is one or two lengths above 0 and up to 200 mm.",
        ),
    ],
)
def test_an_observation_that_cannot_be_put_right_stays(part, said, correction, reason):
    one = session()
    say(one, part, *said)
    before = observed(one)
    assert refusal(one, f"correction {correction}") == reason
    assert observed(one) == before


def test_missing_teeth_are_left_out_of_what_goes_to_several_and_are_named_once():
    one = session()
    say(one, "202 missing", "201 to 203")
    heard = one.type_text("calculus 1 plaque 1")
    assert heard.outcome == "charted"
    assert sorted(charted(one)) == [
        "201 calculus 1",
        "201 plaque 1",
        "202 missing",
        "203 calculus 1",
        "203 plaque 1",
    ]
    assert str(heard).count("Left out, charted missing: 202.") == 1


def test_where_all_teeth_in_hand_are_missing_nothing_is_charted():
    one = session()
    say(one, "201 missing", "202 missing", "201 to 202")
    assert refusal(one, "calculus 1") == "All of these teeth are charted missing."


def test_the_arch_ends_and_without_a_tooth_there_is_no_next():
    one = session()
    assert refusal(one, "next tooth") == "No tooth is in hand: say the number of a tooth."
    say(one, "411")
    assert refusal(one, "next tooth") == "The arch ends here: say the number of a tooth."
    say(one, "110")
    assert refusal(one, "previous tooth") == "The arch ends here: say the number of a tooth."
    say(one, "109", "previous tooth")
    assert one.chart.tooth_in_hand == 110
    say(one, "next tooth")
    assert one.chart.tooth_in_hand == 109
