"""Two stations that chart one case: each sees what the other charted, and has its own in hand."""

import threading

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.cases.stored import stored_session
from dictate.chart.case import Case
from dictate.chart.chart import blank_chart, fold
from dictate.chart.stations import BehindError
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.report.record import record_of
from dictate.report.record_events import check_events
from dictate.session.session import Session
from dictate.share.remote_session import RemoteSession
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis
from dictate.store.cases import CaseStore
from tests.screen_pilot import OPENED

CASE = Case(id="mila-1", species="dog", opened=OPENED, animal="Mila")


class Rooms:
    """A case in memory, and the stations that chart it; each catches up when told to."""

    def __init__(self, case=CASE):
        self.case, self.events = case, []

    def station(self, **settings):
        def save(new):
            if new[0].sequence != len(self.events) + 1:
                raise BehindError(self.case.id, self.events[new[0].sequence - 1 :])
            self.events += new

        return Session(self.case, spoken_languages(), tuple(self.events), save, **settings)

    def all_catch_up(self, *stations):
        for each in stations:
            each.catch_up(self.events)


@pytest.fixture
def rooms():
    return Rooms()


def findings(session):
    return {(each.tooth, each.kind, each.value, each.site) for each in session.chart.findings}


def said(text, trust="sure", **details):
    audio = UtteranceAudio(np.zeros(160, np.int16), start_s=1.5, end_s=2.5, file="one.wav")
    return Hypothesis(text, score=0.9, trust=trust, engine="fake", **details), audio


def test_each_sees_what_the_other_charts(rooms):
    one, two = rooms.station(), rooms.station()
    one.type_text("208 calculus 2")
    two.type_text("309 calculus 1")
    one.type_text("404 missing")
    rooms.all_catch_up(one, two)
    assert one.events == two.events == tuple(rooms.events)
    assert findings(one) == findings(two)
    assert one.others == {4, 5, 6}
    assert two.others == {1, 2, 3, 7, 8, 9}


def test_what_is_said_without_a_tooth_goes_to_the_tooth_in_hand_here(rooms):
    one, two = rooms.station(), rooms.station()
    one.type_text("208")
    two.type_text("309")
    one.catch_up(rooms.events)
    assert one.chart.tooth_in_hand == 208
    one.type_text("pocket 5 mesial")
    two.type_text("calculus 1")
    assert findings(two) == {(208, "pocket", 5, "mesial"), (309, "calculus", 1, None)}
    one.type_text("next tooth")
    assert one.chart.tooth_in_hand == 209
    two.catch_up(rooms.events)
    assert two.chart.tooth_in_hand == 309


def test_nothing_is_in_hand_here_because_another_station_took_it(rooms):
    one, two = rooms.station(), rooms.station()
    two.type_text("309")
    one.catch_up(rooms.events)
    assert one.chart.teeth_in_hand == ()
    assert one.type_text("pocket 5 mesial").reason == "No tooth is in hand: say its number first."
    assert findings(one) == set()


def test_a_station_that_is_opened_later_has_nothing_in_hand_of_others(rooms):
    one = rooms.station()
    one.type_text("go to radiographs")
    one.type_text("208")
    late = rooms.station(others=range(1, len(rooms.events) + 1))
    assert late.chart.teeth_in_hand == ()
    assert late.chart.context == "radiographs"
    again = rooms.station()
    assert again.chart.tooth_in_hand == 208


def test_the_part_of_the_visit_is_a_station_s_own(rooms):
    one, two = rooms.station(), rooms.station()
    two.type_text("go to treatment")
    one.catch_up(rooms.events)
    assert (one.chart.context, two.chart.context) == ("charting", "treatment")
    assert one.listening_for == "charting"


def test_what_was_said_is_held_against_the_chart_as_it_is_by_then(rooms):
    one, two = rooms.station(), rooms.station()
    one.type_text("208")
    two.type_text("208 missing")
    heard = one.type_text("pocket 5 mesial")
    assert heard.outcome == "refused"
    assert findings(one) == {(208, "missing", None, None)}


def test_what_would_replace_a_finding_of_another_station_is_asked_first(rooms):
    one, two = rooms.station(), rooms.station()
    two.type_text("208 pocket 5 mesial")
    heard = one.type_text("208 pocket 7 mesial")
    assert heard.outcome == "query"
    assert heard.reason == "208 has pocket 5 mm mesial. Replace by pocket 7 mm mesial?"
    assert findings(one) == {(208, "pocket", 5, "mesial")}
    one.type_text("yes")
    assert findings(one) == {(208, "pocket", 7, "mesial")}


def test_undo_never_takes_back_what_another_station_charted(rooms):
    one, two = rooms.station(), rooms.station()
    one.type_text("208 calculus 2")
    two.type_text("309 calculus 1")
    heard = one.type_text("undo")
    assert heard.outcome == "refused"
    assert "Another station has charted since" in heard.reason
    assert len(findings(one)) == 2
    two.type_text("undo")
    assert one.type_text("redo").outcome == "refused"
    one.type_text("undo")
    assert findings(one) == set()


def test_a_correction_is_about_what_was_charted_here(rooms):
    one, two = rooms.station(), rooms.station()
    one.type_text("208 pocket 5 mesial")
    two.type_text("309 pocket 3 mesial")
    one.type_text("correction pocket 6")
    assert findings(one) == {(208, "pocket", 6, "mesial"), (309, "pocket", 3, "mesial")}


def test_yes_answers_what_was_asked_here(rooms):
    one, two = rooms.station(), rooms.station()
    one.hear(*said("208 pocket five millimeters mesial", trust="doubtful"))
    assert len(one.doubts) == 1
    two.hear(*said("three oh nine calculus two", trust="doubtful"))
    one.catch_up(rooms.events)
    assert [each.number in one.others for each in one.doubts] == [True, False]
    one.type_text("yes")
    assert findings(one) == {(208, "pocket", 5, "mesial")}
    heard = one.type_text("yes")
    assert heard.outcome == "refused"
    assert "asked at another station" in heard.reason
    two.type_text("no")
    assert {each[0] for each in findings(two)} == {208}


def test_a_doubt_of_another_station_is_answered_by_its_number_and_moves_no_hand(rooms):
    one, two = rooms.station(), rooms.station()
    two.hear(*said("three oh nine calculus two", trust="doubtful"))
    one.catch_up(rooms.events)
    (doubt,) = one.doubts
    one.answer(doubt.number, 1)
    assert findings(one) == {(309, "calculus", 2, None)}
    assert one.chart.teeth_in_hand == ()
    two.catch_up(rooms.events)
    assert two.doubts == ()


def test_a_tooth_that_was_answered_about_elsewhere_has_to_be_named(rooms):
    one, two = rooms.station(), rooms.station()
    two.type_text("208")
    two.hear(*said("three oh nine", trust="doubtful"))
    one.catch_up(rooms.events)
    one.answer(one.doubts[-1].number, 1)
    heard = two.type_text("pocket 5 mesial")
    assert heard.outcome == "refused"
    assert "say which tooth" in heard.reason
    two.type_text("309 pocket 5 mesial")
    assert findings(two) == {(309, "pocket", 5, "mesial")}


def test_a_note_that_was_asked_for_waits_for_what_is_said_here(rooms):
    one, two = rooms.station(keep_clip=lambda samples, number: f"{number}.flac"), rooms.station()
    one.hear(*said("take a note"))
    two.type_text("309 calculus 1")
    one.catch_up(rooms.events)
    assert one.note_is_due
    assert not two.note_is_due
    one.hear(*said("gums bleed"))
    assert [note.text for note in one.chart.notes] == ["gums bleed"]


def test_to_stop_listening_is_done_although_another_station_charted(rooms):
    one, two = rooms.station(), rooms.station()
    two.type_text("309 calculus 1")
    heard = one.hear(*said("stop listening"))
    assert heard is not None and heard.outcome == "charted"
    assert not one.is_listening
    assert one.hear(*said("two oh eight calculus one")) is None
    two.type_text("309 calculus 2")
    assert one.hear(*said("start listening")) is not None
    assert one.is_listening


def test_a_chart_is_not_closed_while_another_station_has_a_doubt(rooms):
    one, two = rooms.station(), rooms.station()
    two.hear(*said("three oh nine calculus two", trust="doubtful"))
    heard = one.type_text("close the chart")
    assert "answer first, then close" in heard.reason


def test_a_station_that_is_always_behind_gives_up_in_one_sentence():
    def save(new):
        raise BehindError("mila-1", [new[0].model_copy(update={"sequence": new[0].sequence})])

    session = Session(CASE, spoken_languages(), save=save)
    with pytest.raises(DictateError, match="being charted elsewhere"):
        session.type_text("208 calculus 2")


PHRASES = ("208", "pocket 5 mesial", "309 calculus 1", "missing", "undo", "redo", "yes", "no",
           "208 pocket 13 mesial", "next tooth", "correction 3", "clear 208", "404",
           "all upper left", "rest of the mouth calculus 1", "go to treatment", "mixed dentition",
           "note: calm", "buccal 3 2 3")  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 1), st.sampled_from(PHRASES)), max_size=14), st.data())
def test_whatever_two_stations_say_comes_to_one_record_that_can_be(turns, data):
    rooms = Rooms()
    stations = rooms.station(), rooms.station()
    for which, phrase in turns:
        hand = stations[which].chart.teeth_in_hand
        heard = stations[which].type_text(phrase)
        for finding in _charted_since(rooms, heard) if phrase in ("pocket 5 mesial",) else ():
            assert finding.tooth in hand
        if data.draw(st.booleans()):
            rooms.all_catch_up(*stations)
    rooms.all_catch_up(*stations)
    assert stations[0].events == stations[1].events == tuple(rooms.events)
    assert findings(stations[0]) == findings(stations[1])
    check_events(CASE, rooms.events)
    assert set(stations[0].chart.findings) == set(fold(blank_chart(CASE), rooms.events).findings)
    record_of(CASE, rooms.events)


def _charted_since(rooms, heard):
    last = rooms.events[-1].utterance
    return [
        finding
        for event in rooms.events
        if event.utterance == last and event.what.event == "charted"
        for finding in event.what.findings
    ]


def test_two_stations_at_once_on_one_store_lose_nothing(place, tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    CaseStore(place).add_case(CASE)
    teeth = {"one": (201, 202, 203, 204), "two": (301, 302, 303, 304)}

    def chart(name):
        store = CaseStore(place)
        session = stored_session(store, CASE)
        for tooth in teeth[name]:
            session.type_text(str(tooth))
            for depth in (2, 3):
                site = {2: "mesial", 3: "distal"}[depth]
                assert session.type_text(f"pocket {depth} {site}").outcome == "charted"
        store.close()

    threads = [threading.Thread(target=chart, args=(name,)) for name in teeth]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    _, events = CaseStore(place).load(CASE.id)
    chart_of_all = fold(blank_chart(CASE), events)
    assert {(f.tooth, f.value) for f in chart_of_all.findings} == {
        (tooth, depth) for each in teeth.values() for tooth in each for depth in (2, 3)
    }
    assert [each.sequence for each in events] == list(range(1, len(events) + 1))


def test_a_second_screen_shows_what_its_own_station_has_in_hand(rooms):
    one, two = rooms.station(), rooms.station()
    one.type_text("208")
    two.type_text("309 calculus 1")
    one.catch_up(rooms.events)
    screen = RemoteSession(CASE, spoken_languages(), link=None)
    screen.follow(one.events[:2])
    screen.follow(one.events[2:], sorted(one.others))
    assert screen.chart == one.chart
    one.type_text("pocket 5 mesial")
    screen.follow(one.events[len(screen.events) :])
    assert screen.chart == one.chart
