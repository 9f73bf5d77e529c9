"""What was charted while the database was away, put after what another station charted."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.cases.merging import merged
from dictate.chart.chart import blank_chart, fold
from dictate.chart.events import Event
from dictate.grammar.spoken import spoken_languages
from dictate.integrity.seal import signer
from dictate.report.record_events import check_events
from dictate.session.doubts import open_doubts
from dictate.session.session import Session
from dictate.store.delivery import delivery_of
from tests.screen_pilot import OPENED
from tests.test_stations import CASE, PHRASES, said


class Away:
    """A case that two stations knew; then one of them charts without the other."""

    def __init__(self, known=(), **settings):
        self.known = self._said((), known)
        self.deliveries = []
        self.here = Session(
            CASE,
            spoken_languages(),
            self.known,
            save=lambda new: self.deliveries.append(delivery_of(new)),
            now=lambda: OPENED,
            **settings,
        )
        self.there = list(self.known)

    @staticmethod
    def _said(events, phrases):
        session = Session(CASE, spoken_languages(), events, now=lambda: OPENED)
        for phrase in phrases:
            session.type_text(phrase)
        return session.events

    def elsewhere(self, *phrases):
        self.there = list(self._said(self.there, phrases))

    def merge(self, there=None):
        new = merged(CASE, self.known, self.there, self.deliveries, there or {})
        assert [each.id for each in new] == [
            each.id for each in self.deliveries if each.id not in (there or {})
        ]
        events = [each for one in new for each in one.events]
        assert events == [Event.model_validate_json(each.model_dump_json()) for each in events]
        return [*self.there, *events]

    def session(self):
        events = self.merge()
        others = range(len(self.known) + 1, len(self.there) + 1)
        check_events(CASE, events)
        return Session(CASE, spoken_languages(), events, others=others)


def findings(events):
    chart = fold(blank_chart(CASE), events)
    return {(each.tooth, each.kind, each.value, each.site) for each in chart.findings}


def asked(events):
    return [(each.heard.text, each.heard.reason) for each in open_doubts(events)]


def test_where_nobody_else_charted_all_stays_as_it_was():
    away = Away(["208 calculus 1"])
    for phrase in ("pocket 5 mesial", "209 missing", "undo"):
        away.here.type_text(phrase)
    assert tuple(away.merge()) == away.here.events
    assert merged(CASE, away.known, away.there, ()) == ()


def test_what_nothing_speaks_against_is_charted_with_new_numbers():
    away = Away()
    away.here.type_text("208 calculus 2")
    away.here.type_text("pocket 5 mesial")
    away.elsewhere("309 calculus 1", "404 missing")
    events = away.merge()
    assert [each.sequence for each in events] == list(range(1, len(events) + 1))
    assert asked(events) == []
    assert findings(events) == {
        (309, "calculus", 1, None), (404, "missing", None, None),
        (208, "calculus", 2, None), (208, "pocket", 5, "mesial"),
    }  # fmt: skip


def test_what_the_chart_forbids_by_then_is_asked_and_not_charted():
    away = Away()
    away.here.type_text("208 pocket 5 mesial")
    away.elsewhere("208 missing")
    session = away.session()
    assert findings(session.events) == {(208, "missing", None, None)}
    ((words, reason),) = asked(session.events)
    assert words == "208 pocket 5 mesial"
    assert "208" in reason and "missing" in reason
    assert session.type_text("yes").outcome == "refused"
    assert findings(session.events) == {(208, "missing", None, None)}
    session.type_text("208 not missing")
    session.answer(session.doubts[-1].number, 1)
    assert (208, "pocket", 5, "mesial") in findings(session.events)


def test_another_value_at_the_same_place_is_asked_about():
    away = Away()
    away.here.type_text("208 pocket 7 mesial")
    away.elsewhere("208 pocket 5 mesial")
    session = away.session()
    assert asked(session.events) == [
        ("208 pocket 7 mesial", "208 has pocket 5 mm mesial. Replace by pocket 7 mm mesial?")
    ]
    assert session.type_text("yes").outcome == "charted"
    assert findings(session.events) == {(208, "pocket", 7, "mesial")}


def test_the_same_value_is_no_question():
    away = Away()
    away.here.type_text("208 pocket 5 mesial")
    away.elsewhere("208 pocket 5 mesial")
    assert asked(away.merge()) == []
    assert findings(away.merge()) == {(208, "pocket", 5, "mesial")}


def test_what_follows_what_is_asked_goes_to_the_tooth_that_was_meant():
    away = Away()
    away.here.type_text("208 pocket 5 mesial")
    away.here.type_text("next tooth")
    away.here.type_text("calculus 1")
    away.elsewhere("208 missing")
    session = away.session()
    assert findings(session.events) == {
        (208, "missing", None, None), (209, "calculus", 1, None)
    }  # fmt: skip
    assert session.chart.tooth_in_hand == 209


def test_an_observation_that_is_asked_about_is_the_same_when_it_is_read_again():
    away = Away(["go to soft tissue"])
    away.here.type_text("mass left lower lip 4 by 6 mm")
    away.elsewhere("mass left lower lip 2 by 3 mm")
    assert [text for text, _ in asked(away.merge())] == ["mass left lower lip 4 by 6 mm"]


def test_the_tooth_in_hand_stays_in_hand():
    away = Away(["104"])
    away.here.type_text("208 pocket 5 mesial")
    away.elsewhere("208 missing", "309 calculus 1")
    assert away.session().chart.tooth_in_hand == 208


def test_an_undo_goes_with_what_it_took_back():
    away = Away()
    away.here.type_text("208 pocket 5 mesial")
    away.here.type_text("undo")
    away.here.type_text("209 pocket 3 mesial")
    away.elsewhere("208 missing")
    events = away.merge()
    assert asked(events) == []
    assert findings(events) == {(208, "missing", None, None), (209, "pocket", 3, "mesial")}


def test_undone_and_redone_is_asked_again():
    away = Away()
    for phrase in ("208 pocket 5 mesial", "undo", "redo"):
        away.here.type_text(phrase)
    away.elsewhere("208 missing")
    assert len(asked(away.merge())) == 1
    away.here.type_text("undo")
    assert asked(away.merge()) == []


def test_an_undo_of_what_stood_before_is_asked_about():
    away = Away(["208 pocket 5 mesial"])
    away.here.type_text("undo")
    away.elsewhere("309 calculus 1")
    events = away.merge()
    assert (208, "pocket", 5, "mesial") in findings(events)
    assert [words for words, _ in asked(events)] == ["undo"]


def test_a_correction_of_what_was_changed_elsewhere_is_asked_about():
    away = Away(["208 pocket 5 mesial"])
    away.here.type_text("correction pocket 6")
    away.elsewhere("208 pocket 7 mesial", "yes")
    events = away.merge()
    assert findings(events) == {(208, "pocket", 7, "mesial")}
    assert len(asked(events)) == 1


def test_what_was_cleared_elsewhere_or_here_is_not_lost():
    away = Away(["208 pocket 5 mesial"])
    for phrase in ("clear 208", "yes"):
        away.here.type_text(phrase)
    away.elsewhere("208 pocket 8 mesial", "yes")
    events = away.merge()
    assert findings(events) == {(208, "pocket", 8, "mesial")}
    assert len(asked(events)) == 1


def test_an_answer_to_a_question_goes_with_it():
    away = Away()
    away.here.hear(*said("two oh eight calculus two", trust="doubtful"))
    away.here.type_text("yes")
    away.elsewhere("309 calculus 1")
    events = away.merge()
    assert asked(events) == []
    assert (208, "calculus", 2, None) in findings(events)
    away.elsewhere("208 missing")
    events = away.merge()
    assert findings(events) == {(309, "calculus", 1, None), (208, "missing", None, None)}
    ((_, reason),) = asked(events)
    assert "missing" in reason


def test_an_open_question_stays_open_with_all_that_follows_it():
    away = Away()
    away.here.hear(*said("two oh eight", trust="doubtful"))
    away.here.hear(*said("calculus two"))
    away.elsewhere("309 calculus 1")
    session = away.session()
    first, follower = session.doubts
    assert follower.follows == first.number
    session.type_text("yes")
    assert (208, "calculus", 2, None) in findings(session.events)


def test_a_seal_is_not_carried_over_to_another_chart(tmp_path):
    away = Away(["208 calculus 1"], sign=signer(tmp_path))
    for phrase in ("close the chart", "yes"):
        away.here.type_text(phrase)
    assert away.here.chart.closed
    assert tuple(away.merge()) == away.here.events
    away.elsewhere("309 calculus 1")
    session = away.session()
    assert not session.chart.closed
    session.type_text("yes")
    assert session.chart.closed


def test_what_is_said_of_a_chart_that_was_closed_meanwhile_is_asked():
    away = Away(["208 calculus 1"])
    away.here.type_text("309 calculus 1")
    away.here.type_text("note: gums bleed")
    away.elsewhere("close the chart", "yes")
    session = away.session()
    assert findings(session.events) == {(208, "calculus", 1, None)}
    assert [words for words, _ in asked(session.events)] == ["309 calculus 1", "gums bleed"]


def test_what_is_there_already_is_left_out_and_what_follows_fits():
    """The answer to a delivery was lost: the store had taken it, with other numbers."""
    away = Away()
    away.here.type_text("208 pocket 5 mesial")
    away.here.type_text("209 pocket 3 mesial")
    away.elsewhere("208 missing")
    first = away.merge()
    numbers = iter(range(len(away.there) + 1, len(first) + 1))
    there, place = {}, len(away.there)
    for each in merged(CASE, away.known, away.there, away.deliveries):
        there[each.id] = tuple(event.sequence for event in each.events)
    assert [n for each in there.values() for n in each] == list(numbers)
    assert place < len(first)
    away.there = first
    away.here.type_text("undo")
    away.here.type_text("undo")
    away.here.type_text("207 calculus 1")
    events = away.merge(there)
    assert findings(events) == {(208, "missing", None, None), (207, "calculus", 1, None)}
    assert asked(events) == []
    assert len({each.sequence for each in events}) == len(events)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from(PHRASES), max_size=4),
    st.lists(st.sampled_from(PHRASES), max_size=7),
    st.lists(st.sampled_from(PHRASES), min_size=1, max_size=5),
)
def test_nothing_is_lost_and_nothing_is_charted_unseen(known, here, elsewhere):
    away = Away(known)
    for phrase in here:
        away.here.type_text(phrase)
    away.elsewhere(*elsewhere)
    events = away.merge()
    check_events(CASE, events)
    assert [each.sequence for each in events] == list(range(1, len(events) + 1))
    heard = [each.what.text for each in events if each.what.event == "heard"]
    expected = [each.what.text for each in (*away.there, *away.here.events[len(away.known) :])
                if each.what.event == "heard"]  # fmt: skip
    assert heard == expected
    after = findings(events)
    theirs, ours = findings(away.there), findings(away.here.events)
    assert after <= theirs | ours
    if not asked(events) and not {"undo", "redo", "no", "clear 208"} & {*here, *elsewhere}:
        places = {(tooth, kind, site) for tooth, kind, _, site in after}
        assert {
            (tooth, kind, site) for tooth, kind, _, site in ours - findings(away.known)
        } <= places


@pytest.mark.parametrize("phrase", PHRASES)
def test_every_kind_of_thing_said_alone_is_carried_over_whole(phrase):
    away = Away(["208 calculus 1"])
    away.here.type_text(phrase)
    away.elsewhere("404 calculus 1")
    events = away.merge()
    if phrase != "undo":
        assert [each.what.event for each in events[len(away.there) :]] == [
            each.what.event for each in away.here.events[len(away.known) :]
        ]
