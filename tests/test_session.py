from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.chart import Chart, fold
from dictate.chart.events import CONTEXTS, GO_TO_NAMES, Event
from dictate.chart.rules import objection_to_finding
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.speech.recogniser import Hypothesis

LANGUAGES = spoken_languages()
OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)


def session(species: str = "dog", **others) -> Session:
    case = Case(id="brindle", species=species, opened=OPENED, animal="Brindle")
    return Session(case, LANGUAGES, now=lambda: OPENED, **others)


def charted(one: Session) -> list[str]:
    return [f"{finding.tooth} {finding.words()}" for finding in one.chart.findings]


def say(one: Session, *phrases: str) -> list[str]:
    return [one.type_text(phrase).outcome for phrase in phrases]


def doubtful(text: str) -> Hypothesis:
    return Hypothesis(text, score=0.4, trust="doubtful", reason="Heard unclearly.", engine="sphinx")


def foreign(text: str) -> Hypothesis:
    return Hypothesis(text, score=0.1, trust="foreign", engine="sphinx")


def test_findings_go_to_the_tooth_in_hand():
    one = session()
    say(one, "208 calculus 2", "pocket 5 mesial")
    assert charted(one) == ["208 calculus 2", "208 pocket 5 mm mesial"]


def test_an_observation_that_is_edited_is_the_same_when_it_is_read_again():
    one = session()
    say(one, "go to soft tissue", "mass left lower lip 4 by 6 mm")
    one.edit(one.chart.observations[0], "")
    read = tuple(Event.model_validate_json(each.model_dump_json()) for each in one.events)
    assert read == one.events


def test_without_a_tooth_nothing_is_charted():
    one = session()
    heard = one.type_text("calculus 2")
    assert (heard.outcome, heard.rule) == ("refused", "tooth")
    assert charted(one) == []


def test_a_cat_has_no_205():
    one = session("cat")
    heard = one.type_text("205 calculus 2")
    assert (heard.outcome, heard.reason) == ("refused", "A cat has no 205.")
    assert one.chart.tooth_in_hand is None


def test_after_a_tooth_was_refused_its_findings_do_not_go_to_the_tooth_before():
    one = session("cat")
    say(one, "204 calculus 1", "205 calculus 2")
    assert one.type_text("pocket 4").outcome == "refused"
    assert say(one, "206 pocket 4") == ["charted"]
    assert charted(one) == ["204 calculus 1", "206 pocket 4 mm"]


def test_an_utterance_with_an_impossible_part_changes_nothing():
    one = session()
    heard = one.type_text("104 calculus 1 furcation 2")
    assert (heard.outcome, heard.rule) == ("refused", "roots")
    assert charted(one) == []


def test_foreign_speech_is_refused_and_kept():
    one = session()
    heard = one.hear(foreign("two oh eight missing"))
    assert heard.outcome == "refused"
    assert charted(one) == []
    assert one.heard[0].what.text == "two oh eight missing"


def test_a_doubtful_utterance_waits_for_an_answer():
    one = session()
    assert one.hear(doubtful("two oh eight pocket five")).outcome == "query"
    assert charted(one) == []
    say(one, "yes")
    assert charted(one) == ["208 pocket 5 mm"]
    assert one.doubts == ()


def test_no_takes_a_doubt_away():
    one = session()
    one.hear(doubtful("two oh eight pocket five"))
    say(one, "no")
    assert (charted(one), one.doubts) == ([], ())


def test_a_clear_repeat_settles_a_doubt():
    one = session()
    one.hear(doubtful("two oh eight pocket five"))
    say(one, "208 pocket 5")
    assert charted(one) == ["208 pocket 5 mm"]
    assert one.doubts == ()


def test_a_doubtful_repeat_settles_nothing():
    one = session()
    one.hear(doubtful("two oh eight pocket five"))
    one.hear(doubtful("two oh eight pocket five"))
    assert charted(one) == []
    assert one.doubts


def test_a_doubtful_yes_confirms_nothing():
    one = session()
    one.hear(doubtful("two oh eight pocket five"))
    assert one.hear(doubtful("yes")).outcome == "refused"
    assert charted(one) == []


def test_what_follows_a_doubtful_tooth_waits_with_it():
    one = session()
    say(one, "207 calculus 1")
    one.hear(doubtful("two oh eight pocket five"))
    assert say(one, "calculus 2") == ["query"]
    assert charted(one) == ["207 calculus 1"]
    say(one, "yes")
    assert charted(one) == ["207 calculus 1", "208 pocket 5 mm", "208 calculus 2"]


def test_a_tooth_that_is_named_goes_on_while_a_doubt_waits():
    one = session()
    one.hear(doubtful("two oh eight pocket five"))
    assert say(one, "209 calculus 2") == ["charted"]
    assert len(one.doubts) == 1


def test_a_correction_replaces_the_last_value():
    one = session()
    say(one, "104 pocket 5 mesial", "correction pocket 4")
    assert charted(one) == ["104 pocket 4 mm mesial"]


def test_a_correction_of_the_site_leaves_one_finding():
    one = session()
    say(one, "104 pocket 5 mesial", "correction pocket 5 distal")
    assert charted(one) == ["104 pocket 5 mm distal"]


def test_a_correction_of_the_tooth_moves_the_last_utterance():
    one = session()
    say(one, "107 calculus 1", "108 calculus 2 pocket 5", "correction 109")
    assert charted(one) == ["107 calculus 1", "109 calculus 2", "109 pocket 5 mm"]
    assert one.chart.tooth_in_hand == 109


def test_a_correction_of_nothing_is_refused():
    one = session()
    say(one, "104 calculus 1 gingivitis 1")
    assert say(one, "correction pocket 4") == ["refused"]
    assert charted(one) == ["104 calculus 1", "104 gingivitis 1"]


def test_a_correction_that_cannot_be_is_refused():
    one = session()
    say(one, "104 mobility 1")
    assert say(one, "correction mobility 7") == ["refused"]
    assert charted(one) == ["104 mobility 1"]


def test_a_correction_puts_a_doubt_right():
    one = session()
    one.hear(doubtful("three oh eight pocket nine"))
    assert say(one, "correction pocket five") == ["charted"]
    assert charted(one) == ["308 pocket 5 mm"]
    assert one.doubts == ()


def test_what_a_correction_does_not_touch_is_asked_again():
    one = session()
    one.hear(doubtful("three oh eight pocket nine"))
    assert say(one, "calculus 3", "correction pocket five") == ["query", "query"]
    assert charted(one) == []
    say(one, "yes")
    assert sorted(charted(one)) == ["308 calculus 3", "308 pocket 5 mm"]
    assert one.doubts == ()


@pytest.mark.parametrize(
    "correction", ["correction two oh four to two oh six", "change two oh two calculus to three"]
)
def test_a_doubt_about_a_range_is_not_put_right_by_halves(correction):
    one = session()
    one.hear(doubtful("two oh one to two oh three calculus two"))
    assert say(one, correction) == ["refused"]
    assert charted(one) == []
    assert len(one.doubts) == 1


def test_a_correction_of_something_else_confirms_no_doubt():
    one = session()
    say(one, "208 mobility 1")
    one.hear(doubtful("calculus two"))
    say(one, "correction mobility two")
    assert charted(one) == ["208 mobility 2"]
    assert len(one.doubts) == 1


def test_a_correction_at_one_site_loses_no_depth_at_another():
    one = session()
    say(one, "208")
    one.hear(doubtful("buccal three two three"))
    say(one, "correction pocket four mesiobuccal", "yes")
    assert sorted(charted(one)) == [
        "208 pocket 2 mm buccal",
        "208 pocket 3 mm distobuccal",
        "208 pocket 4 mm mesiobuccal",
    ]


def test_a_late_yes_does_not_replace_what_was_charted_since_unasked():
    one = session()
    one.hear(doubtful("two oh eight calculus two"))
    say(one, "208 calculus 3")
    heard = one.type_text("yes")
    assert (heard.outcome, heard.reason) == (
        "query",
        "208 has calculus 3. Replace by calculus 2?",
    )
    assert charted(one) == ["208 calculus 3"]


def test_moving_what_replaced_a_value_restores_that_value():
    one = session()
    say(one, "208 calculus 1", "208 calculus 2", "yes", "correction 209")
    assert sorted(charted(one)) == ["208 calculus 1", "209 calculus 2"]


@pytest.mark.parametrize(
    "text",
    [
        "208 isn't missing",
        "208 missing?",
        "is 208 missing",
        "clear 208 pulp exposure",
        "208 clear caries",
        "remove 208 calculus 2",
        "208 calculus 2 cancel",
    ],
)
def test_what_is_denied_or_asked_cannot_be_confirmed(text):
    one = session()
    assert say(one, text, "yes") == ["refused", "refused"]
    assert charted(one) == []


def test_after_a_refused_tooth_not_even_a_question_leads_to_the_tooth_before():
    one = session()
    say(one, "208 calculus 1", "two oh banana")
    assert say(one, "calculus two", "yes") == ["refused", "refused"]
    assert charted(one) == ["208 calculus 1"]


def test_in_a_mixed_dentition_a_name_is_asked_about():
    case = Case(id="pip", species="dog", opened=OPENED, dentition="mixed")
    one = Session(case, LANGUAGES, now=lambda: OPENED)
    heard = one.type_text("upper left canine fractured")
    assert (heard.outcome, heard.reason) == (
        "query",
        "The permanent 204, or the deciduous 604? Yes means 204.",
    )
    assert say(one, "604 fractured") == ["charted"]


def test_both_sides_are_kept_where_one_is_corrected():
    one = session()
    say(one, "go to awake examination", "ears normal", "correction left ear inflamed")
    assert sorted(each.words() for each in one.chart.observations) == [
        "left ear inflamed",
        "right ear normal",
    ]


def test_an_agent_is_put_right_by_a_correction():
    one = session()
    say(one, "go to treatment", "left mental block lidocaine 0.5 ml")
    say(one, "correction left mental block bupivacaine 0.5 ml")
    assert [each.agent for each in one.chart.observations] == ["bupivacaine"]


def test_a_doubt_about_several_teeth_is_not_put_right_by_halves():
    one = session()
    one.hear(doubtful("three oh eight calculus one three oh nine pocket nine"))
    assert say(one, "correction pocket five") == ["refused"]
    assert charted(one) == []


def test_a_second_value_is_asked_about():
    one = session()
    say(one, "208 pocket 5 mesial")
    assert say(one, "pocket 6 mesial") == ["query"]
    assert charted(one) == ["208 pocket 5 mm mesial"]
    say(one, "yes")
    assert charted(one) == ["208 pocket 6 mm mesial"]


def test_a_tooth_heard_clearly_is_in_hand_while_its_value_is_asked_about():
    one = session()
    say(one, "208 pocket 5", "209 calculus 1", "208 pocket 6")
    assert one.chart.tooth_in_hand == 208
    assert say(one, "calculus 2") == ["charted"]
    assert charted(one) == ["208 pocket 5 mm", "209 calculus 1", "208 calculus 2"]


def test_an_old_doubt_confirmed_leaves_the_tooth_in_hand():
    one = session()
    one.hear(doubtful("two oh eight pocket five"))
    say(one, "209 calculus 2", "yes", "gingivitis 1")
    assert charted(one) == ["209 calculus 2", "208 pocket 5 mm", "209 gingivitis 1"]


def test_a_doubtful_next_tooth_means_the_tooth_it_led_to_then():
    one = session()
    say(one, "207 normal")
    one.hear(doubtful("next tooth calculus two"))
    say(one, "310 normal", "yes")
    assert charted(one) == ["207 normal", "310 normal", "208 calculus 2"]
    assert one.chart.tooth_in_hand == 310


def test_a_doubtful_correction_is_not_confirmed_once_more_was_charted():
    one = session()
    say(one, "207 pocket 3")
    one.hear(doubtful("correction pocket four"))
    say(one, "208 pocket 5")
    assert say(one, "yes") == ["refused"]
    assert charted(one) == ["207 pocket 3 mm", "208 pocket 5 mm"]


def test_what_follows_a_tooth_that_was_not_understood_is_not_charted_on_the_one_before():
    one = session()
    say(one, "208 calculus 1")
    assert say(one, "905 pocket 5") == ["refused"]
    assert say(one, "pocket 5") == ["refused"]
    assert charted(one) == ["208 calculus 1"]


def test_words_that_are_no_answer_are_refused():
    assert say(session(), "208 normal", "no such word") == ["charted", "refused"]


def test_what_is_partly_understood_is_held():
    one = session()
    assert say(one, "208 calculus 2 zorp") == ["query"]
    assert charted(one) == []
    assert {"statement": "unclear", "text": "zorp"} in one.doubts[0].heard.statements


def test_next_tooth_and_skip_go_along_the_arch():
    one = session()
    say(one, "201 normal", "next tooth calculus 1", "skip", "calculus 2")
    assert charted(one) == ["201 normal", "202 calculus 1", "203 calculus 2"]
    assert one.chart.skipped == {202}


def test_undo_takes_back_what_one_utterance_charted():
    one = session()
    say(one, "208 calculus 2", "209 pocket 5 gingivitis 1", "undo")
    assert charted(one) == ["208 calculus 2"]
    assert one.chart.tooth_in_hand == 208


def test_redo_puts_it_back():
    one = session()
    say(one, "208 calculus 2", "undo", "redo")
    assert charted(one) == ["208 calculus 2"]


def test_undo_takes_a_correction_back():
    one = session()
    say(one, "208 pocket 5", "correction pocket 4", "undo")
    assert charted(one) == ["208 pocket 5 mm"]


@pytest.mark.parametrize("command", ["undo", "redo", "yes", "no"])
def test_a_command_with_nothing_to_act_on_is_refused(command):
    assert say(session(), command) == ["refused"]


def test_every_event_is_saved_before_it_shows():
    saved: list = []
    one = session(save=saved.extend)
    say(one, "208 calculus 2", "hello", "undo")
    assert tuple(saved) == one.events


def test_where_saving_fails_the_session_stays_as_it_was():
    def full(_events):
        raise DictateError("The disk is full: make room, then try again.")

    one = session(save=full)
    with pytest.raises(DictateError):
        one.type_text("208 calculus 2")
    assert (one.events, charted(one)) == ((), [])


PHRASES = st.sampled_from(
    """208 calculus 2|calculus 3|pocket 5 mesial|correction pocket 4|undo|redo|yes|no|missing
    |209 missing|calculus 1|next tooth|skip|104 furcation 1|normal|zorp|108 furcation 2 buccal
    |205 calculus 9|correction 207|buccal 3 2 3|fractured|complicated crown fracture|hello
    |correction missing|307 blah mobility 1|retained root""".split("|")
).map(str.strip)
HEARD = st.tuples(PHRASES, st.sampled_from(["sure", "sure", "doubtful", "foreign"]))


def play(one: Session, heard) -> None:
    for text, trust in heard:
        one.hear(Hypothesis(text, score=0.5, trust=trust, engine="sphinx"))


@given(st.lists(HEARD, max_size=25))
@settings(deadline=None)
def test_no_run_of_utterances_puts_an_impossible_fact_in(heard):
    one = session()
    play(one, heard)
    for finding in one.chart.findings:
        others = one.chart.model_copy(
            update={"findings": tuple(f for f in one.chart.findings if f != finding)}
        )
        objection = objection_to_finding(others, finding, correcting=True)
        assert objection is None or objection.verdict == "ask", objection
    places = [finding.place for finding in one.chart.findings]
    assert len(places) == len(set(places))


@given(st.lists(HEARD, max_size=25))
@settings(deadline=None)
def test_a_resumed_session_is_the_one_that_was_left(heard):
    one = session()
    play(one, heard)
    again = session(events=one.events)
    assert again.chart == one.chart
    assert again.doubts == one.doubts
    assert again.heard == one.heard


@given(st.lists(HEARD, max_size=20), PHRASES)
@settings(deadline=None)
def test_undo_after_anything_charted_is_the_state_before_it(heard, last):
    one = session()
    play(one, heard)
    before = one.chart
    outcome = one.type_text(last).outcome
    if outcome == "charted" and one.events[-1].what.event not in ("undone", "redone", "settled"):
        one.type_text("undo")
        assert one.chart == before


def test_the_chart_is_the_fold_of_its_events():
    one = session()
    say(one, "208 calculus 2", "pocket 5", "undo", "209 missing", "correction 207")
    assert fold(Chart(species="dog", index_scale=4), one.events) == one.chart


@pytest.mark.parametrize("unclear", ["rest of the incisxrs", "zorch premolars", "all tooths"])
def test_what_may_have_named_several_teeth_leaves_no_tooth_for_what_follows(unclear):
    one = session()
    say(one, "208", unclear)
    heard = one.type_text("calculus two")
    assert heard.outcome != "charted"
    assert charted(one) == []


@pytest.mark.parametrize("context", CONTEXTS)
def test_every_part_of_a_visit_can_be_gone_to_by_its_name(context):
    one = session()
    say(one, f"go to {GO_TO_NAMES[context]}")
    assert one.chart.context == context


@pytest.mark.parametrize("move", ["next tooth calculus one", "skip", "previous tooth"])
def test_a_move_on_from_a_doubtful_tooth_waits_with_it(move):
    one = session()
    say(one, "208")
    one.hear(doubtful("two ten pocket five"))
    assert say(one, move) == ["query"]
    assert (charted(one), one.chart.tooth_in_hand) == ([], 208)


def test_a_move_on_from_a_refused_tooth_is_refused():
    one = session("cat")
    say(one, "204", "205 calculus 2")
    assert say(one, "next tooth calculus 1") == ["refused"]
    assert charted(one) == []
