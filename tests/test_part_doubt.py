"""Some words of an utterance in doubt: one finding is asked about, and what else it may be."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.events import Heard, Settled
from dictate.chart.rules import objection_to_finding
from dictate.errors import DictateError
from dictate.report.heard_lines import heard_lines
from dictate.report.page import html_page
from dictate.report.record import read_json, record_of, write_json
from dictate.report.table import utterance_cells
from dictate.session.session import Session
from dictate.settings import SoundSettings
from dictate.sounds.readback import outcome_in_words
from dictate.speech.recogniser import DoubtfulWord, HeardWord, Hypothesis
from tests.test_session import OPENED, charted, say, session
from tests.test_sounds import FakeOutput, Playing, wait_for


def sure(text: str) -> Hypothesis:
    return Hypothesis(text, score=0.9, trust="sure", engine="sphinx")


def doubting(text: str, /, **instead: str) -> Hypothesis:
    """A hypothesis in doubt about words, each given with what may have been said instead:
    `five="nine four"`. A word that stands there twice is meant where it stands last."""
    words = text.split()
    places = {word: place for place, word in enumerate(words)}
    doubtful = tuple(
        DoubtfulWord(places[word], tuple(others.split())) for word, others in instead.items()
    )
    return Hypothesis(
        text,
        score=0.4,
        trust="doubtful",
        reason="Heard unclearly.",
        engine="sphinx",
        doubtful_words=doubtful,
    )


def hear(session: Session, text: str, /, **instead: str) -> Heard:
    return session.hear(doubting(text, **instead))


MIXED = "two oh eight calculus two pocket five mesial"


def mixed(**others) -> Session:
    """Calculus 2 is charted; the depth of the pocket is asked about."""
    one = session(**others)
    heard = hear(one, MIXED, five="nine four")
    assert heard.outcome == "query"
    return one


def test_one_doubtful_word_asks_about_one_finding_and_charts_the_rest():
    one = mixed()
    first, asked = (event.what for event in one.heard)
    assert charted(one) == ["208 calculus 2"]
    assert one.chart.tooth_in_hand == 208
    assert (first.outcome, first.text, first.part_of) == ("charted", MIXED, None)
    assert (asked.text, asked.part_of) == ("pocket five mesial", 1)
    finding = {"tooth": 208, "kind": "pocket", "value": 5, "unit": "mm", "site": "mesial"}
    assert asked.statements == ({"statement": "finding", "finding": finding},)


def test_yes_charts_what_was_heard():
    one = mixed()
    assert say(one, "yes") == ["charted"]
    assert charted(one) == ["208 calculus 2", "208 pocket 5 mm mesial"]
    assert one.doubts == ()


def test_no_charts_nothing_of_what_was_asked():
    one = mixed()
    assert say(one, "no") == ["charted"]
    assert charted(one) == ["208 calculus 2"]
    assert one.doubts == ()


@pytest.mark.parametrize(
    ("answer", "depth", "chosen"), [("the second", 9, 2), ("the third", 4, 3), ("2", 9, 2)]
)
def test_another_reading_is_chosen_by_its_number_and_kept_in_the_record(answer, depth, chosen):
    one = mixed()
    assert say(one, answer) == ["charted"]
    assert charted(one) == ["208 calculus 2", f"208 pocket {depth} mm mesial"]
    settled = [event.what for event in one.events if isinstance(event.what, Settled)]
    assert settled == [Settled(of=4, answer="confirmed", chosen=chosen)]


def test_a_spoken_number_alone_chooses_nothing():
    one = mixed()
    assert one.hear(sure("two")).outcome == "refused"
    assert charted(one) == ["208 calculus 2"]


def test_another_reading_is_chosen_by_voice_only_where_that_was_heard_surely():
    one = mixed()
    one.hear(Hypothesis("the second", score=0.4, trust="doubtful", engine="sphinx"))
    assert charted(one) == ["208 calculus 2"]
    one.hear(sure("the second"))
    assert charted(one)[1:] == ["208 pocket 9 mm mesial"]


@pytest.mark.parametrize("answer", ["the third", "3"])
def test_a_reading_that_was_not_offered_is_refused(answer):
    one = session()
    hear(one, MIXED, five="nine")
    heard = one.type_text(answer)
    assert (heard.outcome, heard.reason) == (
        "refused",
        "There is no such reading: say yes or no.",
    )
    assert len(one.doubts) == 1


def test_with_nothing_asked_there_is_nothing_to_choose():
    assert say(session(), "the second", "2") == ["refused", "refused"]


def test_what_cannot_be_is_not_offered():
    one = session()
    heard = hear(one, "two oh eight calculus two mobility one", one="nine two")
    assert [each.text for each in heard.alternatives] == ["mobility two"]


def test_what_means_the_same_is_not_offered():
    one = session()
    heard = hear(one, "two oh eight mobility one calculus two", calculus="tartar plaque")
    assert [each.text for each in heard.alternatives] == ["plaque two"]


def test_what_is_no_sentence_is_not_offered():
    heard = hear(session(), MIXED, five="buccal nine")
    assert [each.text for each in heard.alternatives] == ["pocket nine mesial"]


def test_a_sure_tooth_is_in_hand_while_its_only_finding_is_asked_about():
    one = session()
    assert hear(one, "two oh eight pocket five", five="nine").text == "pocket five"
    assert one.chart.tooth_in_hand == 208
    assert one.hear(sure("calculus one")).outcome == "charted"
    assert charted(one) == ["208 calculus 1"]


def test_where_all_that_was_said_is_in_doubt_all_of_it_is_asked_about():
    one = session()
    say(one, "208")
    heard = hear(one, "pocket five", five="nine")
    assert (heard.part_of, heard.text) == (None, "pocket five")
    assert say(one, "the second") == ["charted"]
    assert charted(one) == ["208 pocket 9 mm"]


def test_a_doubtful_tooth_holds_all_that_follows_it_and_nothing_before():
    one = session()
    text = "one oh four calculus one two oh eight pocket five calculus two"
    heard = hear(one, text, eight="nine")
    assert charted(one) == ["104 calculus 1"]
    assert heard.text == "two oh eight pocket five calculus two"
    assert heard.alternatives[0].text == "two oh nine pocket five calculus two"
    assert one.hear(sure("mobility one")).reason == f"Waits for: {heard.text}."
    assert charted(one) == ["104 calculus 1"]


def held_tooth() -> Session:
    one = session()
    hear(one, "one oh four calculus one two oh eight pocket five", eight="nine")
    one.hear(sure("mobility one"))
    return one


def test_what_follows_a_doubtful_tooth_goes_to_the_tooth_that_is_chosen():
    one = held_tooth()
    assert say(one, "the second") == ["charted"]
    assert charted(one) == ["104 calculus 1", "209 pocket 5 mm", "209 mobility 1"]
    assert one.chart.tooth_in_hand == 209


def test_what_went_on_to_another_tooth_is_not_carried_to_the_one_that_is_chosen():
    one = held_tooth()
    one.hear(sure("next tooth calculus one"))
    heard = one.type_text("the second")
    assert (heard.outcome, charted(one)) == ("refused", ["104 calculus 1"])
    assert "say no" in heard.reason


def test_a_doubtful_move_holds_all_that_follows_it():
    one = session()
    heard = hear(one, "two oh eight calculus one next tooth pocket five", next="previous")
    assert charted(one) == ["208 calculus 1"]
    assert heard.text == "next tooth pocket five"
    say(one, "the second")
    assert charted(one)[1:] == ["207 pocket 5 mm"]


def test_one_doubtful_depth_of_a_run_holds_the_whole_run():
    one = session()
    heard = hear(one, "two oh eight calculus one buccal three two four", four="five")
    assert charted(one) == ["208 calculus 1"]
    assert [each["finding"]["value"] for each in heard.statements] == [3, 2, 4]
    say(one, "the second")
    assert charted(one)[1:] == [
        "208 pocket 3 mm mesiobuccal",
        "208 pocket 2 mm buccal",
        "208 pocket 5 mm distobuccal",
    ]


def test_a_doubtful_site_said_first_holds_all_that_it_is_the_site_of():
    one = session()
    text = "two oh eight calculus one mesial pocket five recession two"
    heard = hear(one, text, mesial="distal")
    assert charted(one) == ["208 calculus 1"]
    assert heard.text == "mesial pocket five recession two"
    say(one, "the second")
    assert charted(one)[1:] == ["208 pocket 5 mm distal", "208 recession 2 mm distal"]


def test_a_doubtful_value_under_a_site_said_first_holds_that_value_alone():
    one = session()
    heard = hear(one, "two oh eight mesial pocket five recession two", two="three")
    assert charted(one) == ["208 pocket 5 mm mesial"]
    assert heard.text == "recession two"
    assert heard.statements[0]["finding"]["site"] == "mesial"


def test_a_doubtful_finding_of_several_teeth_names_each_of_them():
    one = session()
    heard = hear(one, "two oh one to two oh three calculus one mobility two", two="one")
    assert charted(one) == ["201 calculus 1", "202 calculus 1", "203 calculus 1"]
    assert [each["finding"]["tooth"] for each in heard.statements] == [201, 202, 203]
    say(one, "208", "the second")
    assert charted(one)[3:] == ["201 mobility 1", "202 mobility 1", "203 mobility 1"]
    assert one.chart.tooth_in_hand == 208


def test_two_doubtful_words_hold_both_their_findings():
    one = session()
    text = "two oh eight calculus three gingivitis one pocket five"
    heard = hear(one, text, three="two", five="nine")
    assert charted(one) == ["208 gingivitis 1"]
    assert [each.text for each in heard.alternatives] == [
        "calculus two pocket five",
        "calculus three pocket nine",
    ]


def test_a_word_whose_place_is_unknown_holds_the_whole_utterance():
    one = session()
    words = tuple(HeardWord(word, 0.0, 0.1, 1.0) for word in ("<sil>", *MIXED.split()))
    hypothesis = doubting(MIXED, five="nine")
    one.hear(Hypothesis(**{**vars(hypothesis), "words": words}))
    assert charted(one) == []
    assert one.doubts[0].heard.text == MIXED


def test_doubtful_words_of_no_doubtful_utterance_hold_nothing():
    one = session()
    one.hear(Hypothesis(**{**vars(doubting(MIXED, five="nine")), "trust": "sure"}))
    assert charted(one) == ["208 calculus 2", "208 pocket 5 mm mesial"]


def test_where_the_sure_part_cannot_be_nothing_is_charted():
    one = session()
    heard = hear(one, "one oh four furcation two pocket five", five="nine")
    assert (heard.outcome, heard.rule) == ("refused", "roots")
    assert one.events[1:] == ()


def test_where_the_sure_part_must_be_asked_about_all_of_it_is():
    one = session()
    say(one, "208 pocket 6 mesial")
    heard = hear(one, "pocket seven mesial calculus two", two="three")
    assert heard.reason == "208 has pocket 6 mm mesial. Replace by pocket 7 mm mesial?"
    assert heard.part_of is None
    assert charted(one) == ["208 pocket 6 mm mesial"]


def test_where_the_doubtful_part_would_replace_a_value_that_is_what_is_asked():
    one = session()
    say(one, "208 pocket 6 mesial")
    heard = hear(one, "calculus two pocket seven mesial", seven="eleven")
    assert heard.reason == "208 has pocket 6 mm mesial. Replace by pocket 7 mm mesial?"
    assert charted(one) == ["208 pocket 6 mm mesial", "208 calculus 2"]
    say(one, "yes")
    assert charted(one) == ["208 calculus 2", "208 pocket 7 mm mesial"]


def test_another_reading_that_replaces_a_value_is_asked_about_again():
    one = session()
    say(one, "208 pocket 6 mesial")
    hear(one, "calculus two pocket five distal", distal="mesial")
    assert say(one, "the second") == ["query"]
    assert charted(one) == ["208 pocket 6 mm mesial", "208 calculus 2"]
    assert say(one, "yes") == ["charted"]
    assert charted(one) == ["208 calculus 2", "208 pocket 5 mm mesial"]


def test_findings_that_speak_against_each_other_are_not_parted():
    one = session()
    heard = hear(one, "two oh eight pocket six mesial pocket five mesial", six="seven")
    assert (heard.part_of, charted(one)) == (None, [])


def test_an_examination_called_normal_waits_for_what_is_in_doubt_before_it():
    one = session()
    say(one, "go to awake examination")
    text = "left lymph node enlarged head examination normal"
    heard = hear(one, text, enlarged="painful")
    assert heard.part_of is None
    assert one.chart.observations == ()


def test_observations_are_asked_about_one_by_one():
    one = session()
    say(one, "go to awake examination")
    heard = hear(one, "left lymph node enlarged chin swollen", enlarged="painful")
    assert [each.kind for each in one.chart.observations] == ["chin"]
    say(one, "the second")
    assert [each.value for each in one.chart.observations] == ["swollen", "painful"]
    assert heard.part_of == 3


def test_undo_right_after_takes_back_all_that_was_said():
    one = mixed()
    assert say(one, "undo") == ["charted"]
    assert (charted(one), one.doubts, one.chart.tooth_in_hand) == ([], (), None)


def test_undo_later_sets_aside_what_is_still_asked_about():
    one = mixed()
    say(one, "209 missing", "undo", "undo")
    assert (charted(one), one.doubts) == ([], ())


def test_redo_puts_back_what_was_charted():
    one = mixed()
    say(one, "undo", "redo")
    assert (charted(one), one.doubts) == (["208 calculus 2"], ())


def test_after_yes_undo_takes_back_the_answer_first():
    one = mixed()
    say(one, "yes", "undo")
    assert charted(one) == ["208 calculus 2"]
    say(one, "undo")
    assert charted(one) == []


def test_a_correction_right_after_puts_the_doubt_right():
    one = mixed()
    assert one.hear(sure("correction pocket six")).outcome == "charted"
    assert (charted(one), one.doubts) == (["208 calculus 2", "208 pocket 6 mm mesial"], ())


def test_a_correction_of_what_was_charted_leaves_the_doubt_open():
    one = mixed()
    assert one.hear(sure("correction calculus three")).outcome == "charted"
    assert charted(one) == ["208 calculus 3"]
    assert len(one.doubts) == 1


@pytest.mark.parametrize("correction", ["correction missing", "correction two oh seven"])
def test_a_correction_that_may_mean_all_of_it_is_refused(correction):
    one = mixed()
    assert one.hear(sure(correction)).outcome == "refused"
    assert charted(one) == ["208 calculus 2"]
    say(one, "undo")
    assert (charted(one), one.doubts) == ([], ())


def test_a_correction_of_a_kind_that_is_in_both_parts_must_say_where():
    one = session()
    hear(one, "two oh eight pocket five mesial pocket six distal", six="seven")
    assert one.hear(sure("correction pocket four")).outcome == "refused"
    assert one.hear(sure("correction pocket four mesial")).outcome == "charted"
    assert charted(one) == ["208 pocket 4 mm mesial"]


def test_a_correction_of_the_tooth_alone_confirms_no_doubtful_value():
    one = session()
    hear(one, "two oh eight pocket five", five="nine")
    assert one.hear(sure("correction two oh seven")).outcome == "query"
    assert charted(one) == []
    say(one, "yes")
    assert charted(one) == ["207 pocket 5 mm"]


def test_a_correction_of_the_tooth_after_yes_moves_both_parts():
    one = mixed()
    say(one, "yes")
    assert one.hear(sure("correction two oh seven")).outcome == "charted"
    assert charted(one) == ["207 calculus 2", "207 pocket 5 mm mesial"]


@pytest.mark.parametrize(("depth", "chosen"), [("five", None), ("nine", 2)])
@pytest.mark.parametrize(
    "again", ["pocket {} mesial", "two oh eight calculus two pocket {} mesial"]
)
def test_a_clear_repeat_settles_the_doubt(again, depth, chosen):
    one = mixed()
    assert one.hear(sure(again.format(depth))).outcome == "charted"
    assert one.doubts == ()
    number = {"five": 5, "nine": 9}[depth]
    assert sorted(charted(one)) == ["208 calculus 2", f"208 pocket {number} mm mesial"]
    settled = [event.what for event in one.events if isinstance(event.what, Settled)]
    assert settled == [Settled(of=4, answer="repeated", chosen=chosen)]


def test_both_parts_are_saved_as_one_before_anything_is_shown():
    saved, shown = [], []

    def save(events):
        saved.append([event.what.event for event in events])
        shown.append((charted(one), len(one.events)))

    one = session(save=save)
    hear(one, MIXED, five="nine")
    assert saved == [["heard", "tooth", "charted", "heard"]]
    assert shown == [([], 0)]


def test_where_saving_fails_neither_part_is_there():
    def save(events):
        raise DictateError("The disk is full.")

    one = session(save=save)
    with pytest.raises(DictateError):
        hear(one, MIXED, five="nine")
    assert (one.events, charted(one), one.doubts) == ((), [], ())


def test_other_whole_sentences_are_offered_in_the_same_way():
    one = session()
    hypothesis = Hypothesis(
        "two sixteen pocket five",
        score=0.4,
        trust="doubtful",
        engine="sphinx",
        alternatives=("two oh six pocket five", "undo", "two oh seven pocket five"),
    )
    hypothesis = Hypothesis(**{**vars(hypothesis), "text": "two oh eight pocket five"})
    heard = one.hear(hypothesis)
    assert [each.text for each in heard.alternatives] == [
        "two oh six pocket five",
        "two oh seven pocket five",
    ]
    say(one, "the third")
    assert charted(one) == ["207 pocket 5 mm"]


def test_what_leans_on_a_refused_tooth_is_not_offered():
    one = session("cat")
    say(one, "204 calculus 1", "205 calculus 2")
    hypothesis = Hypothesis(
        "two oh six calculus one",
        trust="doubtful",
        engine="sphinx",
        alternatives=("calculus one", "two oh seven calculus one"),
    )
    heard = one.hear(hypothesis)
    assert [each.text for each in heard.alternatives] == ["two oh seven calculus one"]


def test_an_agent_is_asked_about_with_all_that_was_said():
    one = session()
    say(one, "go to treatment")
    text = "left infraorbital block bupivacaine zero point five milliliters two oh eight scaled"
    heard = hear(one, text, scaled="polished")
    assert heard.outcome != "charted"
    assert (charted(one), one.chart.observations) == ([], ())


def test_the_question_names_what_may_have_been_said():
    one = session()
    heard = hear(one, MIXED, five="nine")
    assert outcome_in_words(heard) == (
        "did you say two oh eight, pocket five mesial, or pocket nine mesial?"
    )


def test_the_question_about_a_tooth_names_both_teeth():
    heard = hear(session(), "two oh eight pocket five", eight="nine")
    assert outcome_in_words(heard) == (
        "did you say two oh eight, pocket five, or two oh nine, pocket five?"
    )


def test_what_was_charted_is_read_back_before_the_question():
    one = session()
    heard = hear(one, MIXED, five="nine")
    rest = one.charted_with(heard)
    with Playing(FakeOutput(), SoundSettings(read_back="all")) as playing:
        playing.answers.to(heard, charted=rest)
        wait_for(lambda: playing.said)
    assert playing.said == [f"two oh eight, calculus two. {outcome_in_words(heard)}"]


def test_the_record_tells_what_was_asked_and_what_was_chosen(tmp_path):
    one = mixed()
    record = record_of(one.case, one.events)
    assert "2: 208 pocket 9 mm mesial" in heard_lines(record)[1].remarks
    assert "2: 208 pocket 9 mm mesial" in html_page(record, OPENED)
    say(one, "the second")
    record = record_of(one.case, one.events)
    remarks = heard_lines(record)[1].remarks
    assert "confirmed by a person, as 208 pocket 9 mm mesial" in remarks
    write_json(record, tmp_path / "record.json")
    assert read_json(tmp_path / "record.json") == record


def _kinds(what) -> list[str]:
    return [each.kind for each in getattr(what, "findings", ())]


def test_a_table_names_the_words_that_were_chosen():
    one = mixed()
    say(one, "the second")
    cells = utterance_cells(one.events, _kinds)
    assert cells["pocket"][0] == "pocket nine mesial"
    assert cells["calculus"][0] == MIXED


def test_old_events_have_no_alternatives():
    old = {"event": "heard", "text": "two oh eight", "outcome": "charted"}
    heard = Heard.model_validate(old)
    assert (heard.alternatives, heard.part_of) == ((), None)
    assert Settled.model_validate({"of": 1, "answer": "confirmed"}).chosen is None


TEXTS = st.sampled_from(
    """two oh eight calculus two pocket five mesial|pocket five mesial calculus one
    |two oh nine missing|next tooth pocket four mobility one|calculus three|buccal three two three
    |two oh one to two oh three calculus one mobility two|one oh four furcation one pocket three
    |mesial pocket five recession two|two oh eight missing two oh nine pocket six
    |normal|previous tooth fractured calculus one""".split("|")
).map(str.strip)
WORDS = "one two three four five nine eight mesial distal next previous missing normal".split()
DOUBTFUL = st.builds(
    lambda text, place, instead: Hypothesis(
        text,
        score=0.4,
        trust="doubtful",
        engine="sphinx",
        doubtful_words=(DoubtfulWord(place % len(text.split()), tuple(instead)),),
    ),
    TEXTS,
    st.integers(0, 20),
    st.lists(st.sampled_from(WORDS), max_size=3),
)
SURE = st.builds(
    sure,
    TEXTS
    | st.sampled_from(
        """yes|no|the second|the third|undo|redo|correction pocket four|correction two oh seven
        |correction missing""".split("|")
    ).map(str.strip),
)


def play(one: Session, heard) -> None:
    for each in heard:
        one.hear(each)


@given(st.lists(DOUBTFUL | SURE, max_size=15), DOUBTFUL)
@settings(deadline=None)
def test_undo_after_an_utterance_in_doubt_is_the_chart_before_it(heard, last):
    one = session()
    play(one, heard)
    before, open_before = one.chart, one.doubts
    if one.hear(last).outcome == "query":
        new = [each for each in one.doubts if each not in open_before]
        one.hear(sure("undo"))
        assert one.chart == before
        assert not {each.number for each in new} & {each.number for each in one.doubts}


@given(st.lists(DOUBTFUL | SURE, max_size=20))
@settings(deadline=None)
def test_no_run_of_doubts_puts_an_impossible_fact_in(heard):
    one = session()
    play(one, heard)
    for finding in one.chart.findings:
        others = one.chart.model_copy(
            update={"findings": tuple(f for f in one.chart.findings if f != finding)}
        )
        objection = objection_to_finding(others, finding, correcting=True)
        assert objection is None or objection.verdict == "ask", objection
    again = session(events=one.events)
    assert (again.chart, again.doubts, again.heard) == (one.chart, one.doubts, one.heard)


@given(DOUBTFUL)
@settings(deadline=None)
def test_yes_to_an_utterance_in_doubt_charts_what_a_sure_one_charts(heard):
    one, other = session(), session()
    say(one, "207")
    say(other, "207")
    asked = one.hear(heard).outcome
    became = other.hear(sure(heard.text)).outcome
    if (asked, became) == ("query", "charted"):
        say(one, "yes")
        assert set(one.chart.findings) == set(other.chart.findings)
        assert one.chart.tooth_in_hand == other.chart.tooth_in_hand


@given(DOUBTFUL)
@settings(deadline=None)
def test_nothing_is_charted_that_another_word_would_have_made_otherwise(heard):
    """What is charted unasked is charted too where the other word was said."""
    one = session()
    say(one, "207")
    one.hear(heard)
    (doubtful,) = heard.doubtful_words
    for word in doubtful.instead:
        words = heard.text.split()
        words[doubtful.place] = word
        other = session()
        say(other, "207")
        if other.hear(sure(" ".join(words))).outcome == "charted":
            assert set(one.chart.findings) <= set(other.chart.findings)
