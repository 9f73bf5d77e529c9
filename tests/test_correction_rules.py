"""Corrections, moves and teeth left out: what is put right, and what is said where it cannot be."""

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


def test_what_is_not_there_cannot_be_corrected():
    one = session()
    assert refusal(one, "correction calculus 2") == (
        "There is no calculus on the tooth in hand to correct."
    )
    say(one, "208")
    assert refusal(one, "correction calculus 2") == "There is no calculus on 208 to correct."


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
