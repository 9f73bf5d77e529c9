"""The views beside the chart: opened, searched and used by key, by mouse and by speech."""

import pytest
from textual.widgets import Input

from dictate.phrases.reading import read_typed
from dictate.phrases.statements import ChooseTooth, Clear, Command
from dictate.screen.actions import ACTIONS
from dictate.screen.app import ChartingApp
from dictate.screen.changes_view import ChangesView
from dictate.screen.doubts_view import DoubtsView
from dictate.screen.entry import PhraseInput
from dictate.screen.findings_view import FindingsView
from dictate.screen.help_view import HelpView
from dictate.screen.problems import Problems
from dictate.screen.view import Row
from dictate.settings import ScreenSettings, Settings
from dictate.store.cases import CaseStore
from tests.screen_pilot import (
    LARGE,
    SMALL,
    Listening,
    app_of,
    enter,
    screen_of,
    see,
    session_of,
    understood,
)

SPOKEN_VIEWS = ("help", "plan", "findings", "doubts", "changes")


def test_every_action_has_a_key_and_a_spoken_form_that_the_grammar_takes():
    session = session_of()
    for action in ACTIONS:
        assert action.keys and action.key
        if action.run == "silence":
            assert action.say == ""
            continue
        reading = read_typed(session.languages.beginning_with("charting"), action.say)
        assert reading.is_clear, action.say
        assert all(isinstance(each, Command | Clear | ChooseTooth) for each in reading.statements)


def test_no_two_actions_that_hold_at_once_share_a_key():
    for one in ACTIONS:
        for other in ACTIONS:
            same = set(one.keys.split(",")) & set(other.keys.split(","))
            if one is not other and same and "escape" not in same:
                assert {one.where, other.where} == {"plan", "findings"}


@pytest.mark.parametrize("action", [each for each in ACTIONS if each.run.startswith("show('")])
async def test_a_view_is_opened_and_left_by_its_key(action):
    app = app_of(session_of(phrases=["208 calculus 2"]))
    async with app.run_test(size=SMALL) as pilot:
        name = action.run.removeprefix("show('").removesuffix("')")
        await pilot.press(action.keys.split(",")[0])
        assert app.view == name
        await pilot.press("escape")
        assert app.view == "chart"
        assert app.query_one(PhraseInput).has_focus
        await pilot.press(action.keys.split(",")[0])
        await pilot.press(action.keys.split(",")[0])
        assert app.view == "chart"


@pytest.mark.parametrize("name", SPOKEN_VIEWS)
async def test_a_view_is_opened_and_left_by_speech(name):
    session, listening = session_of(phrases=["208 calculus 2"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=LARGE) as pilot:
        listening.says(understood(f"show {name}"))
        await see(pilot, "Esc chart")
        assert app.view == name
        listening.says(understood(f"show {name}"))
        await pilot.pause(0.2)
        assert app.view == name
        listening.says(understood("209 missing"))
        await see(pilot, "209: missing")
        listening.says(understood("show chart"))
        await see(pilot, "Type >")
        assert app.view == "chart"
    assert session.chart.charted_teeth == {208, 209}


async def test_help_is_searched_and_does_what_is_chosen():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("f1")
        await see(pilot, "say “show help”")
        await see(pilot, "^Z")
        await pilot.press(*"take back what")
        await see(pilot, "Take back what was charted last")
        assert "Answer by sound" not in screen_of(app)
        await pilot.press("enter")
        await see(pilot, "taken back: “208 calculus 2”")
        assert app.view == "chart"
    assert not session.chart.findings


async def test_help_forgives_a_wrong_letter_and_says_so_where_it_finds_nothing():
    app = app_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("f1", *"furcaton")
        await see(pilot, "furcation two")
        await pilot.press(*"qqqqqqqqqq")
        await see(pilot, "Nothing is found.")
        await pilot.press("enter")
        assert app.view == "help"


async def test_a_phrase_chosen_in_help_stands_on_the_line_to_be_changed_and_sent():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("f1", *"change calculus to one", "enter")
        assert app.view == "chart"
        assert app.query_one(PhraseInput).value.startswith("change")
    assert session.chart.findings == ()


async def test_help_names_every_action_and_every_rule_with_examples():
    app = app_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("f1")
        await pilot.pause()
        drawn = "\n".join(row.content(200).plain for row in app.query_one(HelpView)._drawn)
    for action in ACTIONS:
        assert action.does in drawn and action.say in drawn
    assert "horizontal bone loss thirty percent" in drawn and "(Radiographs)" in drawn


async def test_findings_are_searched_by_tooth_name_and_value():
    app = app_of(session_of(phrases=["208 calculus 2", "104 CCF", "309 furcation 3 buccal"]))
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+f")
        await see(pilot, "104  fracture CCF")
        for wanted, found in (("crown", "104"), ("first molar", "309"), ("208", "208")):
            app.query_one(FindingsView).search.value = wanted
            await pilot.pause()
            keys = [row.about for row in app.query_one(FindingsView)._drawn]
            assert keys == [found]


async def test_a_finding_is_edited_in_place_and_undone():
    session = session_of(phrases=["208 pocket 5 mesial", "209 missing"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+f", *"208", "enter")
        await see(pilot, "208 > pocket 5 mm mesial")
        app.query_one("#edit", Input).value = "pocket 6 mm mesial"
        await pilot.press("enter")
        await see(pilot, "208  pocket 6 mm mesial")
        assert not app.query_one(FindingsView).is_editing
        assert [each.value for each in session.chart.on(208)] == [6]
        assert session.chart.tooth_in_hand == 209
        await pilot.press("ctrl+z")
        await see(pilot, "208  pocket 5 mm mesial")


@pytest.mark.parametrize(
    "text, sentence",
    [
        ("pocket 45 mm mesial", "45"),
        ("pocket", "Write one such as “pocket 5 mm mesial”"),
        ("pocket 5 mm mesial calculus 2", "Write one such as"),
        ("302 pocket 5 mm mesial", "That is"),
        ("5", "Write one such as"),
        ("pocket 5 mm mesial", "nothing was changed"),
        ("undo", "Write one such as"),
    ],
)
async def test_what_cannot_stand_is_refused_and_stays_on_the_line(text, sentence):
    session = session_of(phrases=["208 pocket 5 mesial", "302 missing"])
    app = app_of(session)
    before = session.chart
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("ctrl+f", *"208", "enter")
        app.query_one("#edit", Input).value = text
        await pilot.press("enter")
        await pilot.pause()
        if text.startswith("302"):
            await see(pilot, "302")
            assert session.heard[-1].what.outcome == "refused"
        else:
            await see(pilot, sentence)
        assert app.query_one(FindingsView).is_editing
        assert app.query_one("#edit", Input).value == text
        assert session.chart == before
        await pilot.press("escape")
        assert app.view == "findings"
        await pilot.press("escape")
        assert app.view == "chart"
        await pilot.pause()
        assert not app.query_one(Problems).has_class("-open")


async def test_a_finding_and_an_observation_are_taken_back():
    session = session_of(phrases=["208 pocket 5 mesial", "left tonsil enlarged"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+f", "ctrl+x")
        await see(pilot, "–  left tonsil enlarged")
        assert session.chart.findings == ()
        await pilot.press("ctrl+x")
        await see(pilot, "No finding.")
        assert session.chart.observations == ()
        await pilot.press("ctrl+z", "ctrl+z")
        await see(pilot, "208  pocket 5 mm mesial")


async def test_an_edit_that_must_be_asked_about_waits_for_yes():
    session = session_of(phrases=["208 pocket 5 mesial", "pocket 3 distal"])
    app = app_of(session)
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("ctrl+f", *"5 mm", "enter")
        app.query_one("#edit", Input).value = "pocket 4 mm distal"
        await pilot.press("enter")
        await see(pilot, "Replace by pocket 4 mm distal?")
        assert {each.value for each in session.chart.on(208)} == {5, 3}
        await pilot.press("f2")
        await pilot.pause(0.1)
    assert [(each.value, each.site) for each in session.chart.on(208)] == [(4, "distal")]


async def test_changes_tell_what_undo_would_take_back_and_undo_several():
    session = session_of(phrases=["208 calculus 2", "209 missing", "104 CCF"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+l")
        await see(pilot, "undo 1  “104 CCF”")
        await see(pilot, "209: missing")
        await pilot.press("down", "enter")
        await see(pilot, "redo 1  “209 missing”")
        assert session.chart.charted_teeth == {208}
        app.query_one(ChangesView).search.value = "CCF"
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
    assert session.chart.charted_teeth == {208, 209, 104}


async def test_doubts_are_answered_in_any_order_while_charting_goes_on():
    session = session_of(
        phrases=["208 pocket 5 mesial", "104 calculus 2", "208 pocket 7 mesial", "104 calculus 1"]
    )
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+d")
        await see(pilot, "? 208 has pocket 5 mm mesial")
        await see(pilot, "? 104 has calculus 2")
        await pilot.press("down", "f2")
        await pilot.pause(0.1)
        assert [each.value for each in session.chart.on(208)] == [7]
        assert len(session.doubts) == 1
        await pilot.press("f3")
        await see(pilot, "Nothing is asked.")
        assert not app.query_one(DoubtsView)._rows
    assert [each.value for each in session.chart.on(104)] == [2]


async def test_a_chart_is_not_closed_over_an_open_doubt():
    session = session_of(phrases=["208 pocket 5 mesial", "208 pocket 7 mesial"])
    app = app_of(session)
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("ctrl+k")
        await see(pilot, "1 doubt is open: answer first, then close.")
        await pilot.press("f2", "ctrl+k")
        await see(pilot, "Close the chart as final?")
        assert not session.chart.closed
        await pilot.press("f2")
        await see(pilot, "closed as final")
        assert session.chart.closed
        await enter(pilot, "209 missing")
        await see(pilot, "The chart is closed as final")
        assert session.chart.charted_teeth == {208}
        await pilot.press("ctrl+g")
        await see(pilot, "opened again")
        await enter(pilot, "209 missing")
        assert session.chart.charted_teeth == {208, 209}


async def test_the_screen_turns_light_and_dark_by_speech():
    listening = Listening()
    app = app_of(session_of(), listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(understood("light screen"))
        await pilot.pause(0.2)
        assert app.theme == "dictate-light"
        listening.says(understood("dark screen"))
        await pilot.pause(0.2)
        assert app.theme == "dictate-dark"


async def test_the_program_is_left_by_saying_so_twice():
    listening = Listening()
    app = app_of(session_of(), listening)
    async with app.run_test(size=LARGE) as pilot:
        listening.says(understood("leave the program"))
        await see(pilot, "Say “leave the program” again")
        assert app.is_running
        listening.says(understood("leave the program"))
        await pilot.pause(0.3)
    assert not app.is_running


async def test_proposals_are_decided_on_by_speech_while_they_are_in_sight():
    session, listening = session_of(phrases=["208 calculus 2"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=LARGE) as pilot:
        listening.says(understood("accept proposal"))
        await see(pilot, "say “show plan” first")
        assert not session.chart.decisions
        listening.says(understood("show plan"))
        await see(pilot, "waits for a decision")
        listening.says(understood("accept proposal"))
        await see(pilot, "✓ accepted")
    assert [each.decision for each in session.chart.decisions] == ["accepted"]


@pytest.mark.parametrize("trust", ["doubtful", "foreign"])
async def test_what_was_heard_unsurely_turns_no_view(trust):
    listening = Listening()
    app = app_of(session_of(), listening)
    async with app.run_test(size=LARGE) as pilot:
        listening.says(understood("show help", trust=trust))
        await see(pilot, "✗ refused")
        assert app.view == "chart"


async def test_rows_are_chosen_with_the_mouse():
    app = app_of(session_of(phrases=["208 pocket 5 mesial"]))
    assert isinstance(app, ChartingApp)
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("ctrl+f")
        await see(pilot, "208  pocket 5 mm mesial")
        line = next(
            place for place, row in enumerate(screen_of(app).splitlines()) if "208  pocket" in row
        )
        await pilot.click(offset=(4, line))
        await see(pilot, "208 > pocket 5 mm mesial")


async def test_big_type_is_shown_from_the_start_where_that_is_set():
    settings = Settings(screen=ScreenSettings(big_type=True))
    app = ChartingApp(session_of(phrases=["208 calculus 2"]), settings=settings)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.pause()
        assert app.view == "big"
        await pilot.press("escape")
        assert app.view == "chart"


async def test_settings_are_shown_and_left_by_speech_while_charting_goes_on():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=LARGE) as pilot:
        listening.says(understood("show settings"))
        await see(pilot, "SETTINGS")
        assert app.is_covered
        listening.says(understood("208 missing"))
        listening.says(understood("show findings"))
        await see(pilot, "208  missing")
        assert not app.is_covered and app.view == "findings"
        listening.says(understood("show settings"), understood("show chart"))
        await see(pilot, "Type >")
        assert not app.is_covered and app.view == "chart"


async def test_cases_are_looked_at_and_a_question_closes_the_list(tmp_path):
    store = CaseStore(tmp_path / "cases.sqlite")
    session, listening = session_of(phrases=["208 pocket 5 mesial"]), Listening()
    store.add_case(session.case)
    app = ChartingApp(session, listening, store=store)
    async with app.run_test(size=LARGE) as pilot:
        listening.says(understood("show cases"))
        await see(pilot, "mila-1")
        assert app.is_covered
        await pilot.press("f2", "ctrl+z")
        assert session.chart.charted_teeth == {208}
        listening.says(understood("208 pocket seven mesial"))
        await see(pilot, "Replace by pocket 7 mm mesial?")
        assert not app.is_covered
        await pilot.press("ctrl+o")
        await see(pilot, "mila-1")
        await pilot.press("escape")
        await see(pilot, "Type >")


async def test_without_a_store_there_are_no_cases_to_show():
    app = app_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        await pilot.press("ctrl+o")
        await see(pilot, "There are no cases here")


async def test_a_closed_chart_says_so_and_names_the_key_that_opens_it_again():
    app = app_of(session_of(phrases=["208 missing", "close the chart"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "YES charts")
        assert "^G reopen" not in screen_of(app)
        await pilot.press("f2")
        await see(pilot, "CHARTING: closed as final")
        await see(pilot, "^G reopen")
        await see(pilot, "type what you would say: open the chart again")
        await pilot.press("ctrl+g")
        await see(pilot, "type what you would say: 208")
        assert "closed as final  " not in screen_of(app).splitlines()[0]
        assert "^G reopen" not in screen_of(app)


async def test_an_answer_that_only_takes_a_tooth_in_hand_says_that_it_charts_nothing():
    app = app_of(session_of(phrases=["209 crown fracture"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "YES charts  nothing; 209 in hand")
        await pilot.press("ctrl+d")
        await see(pilot, "F2 YES charts nothing; 209 in hand")


def test_what_goes_on_below_the_first_line_of_a_row_is_set_in():
    row = Row("key", "208", "pocket 5 mm mesial, heard in many more words", ("and below it, too",))
    first, *below = row.content(28).plain.split("\n")
    assert first.startswith("208") and len(below) > 1
    assert all(line.startswith("    ") and len(line) <= 28 for line in below)


async def test_changes_end_where_the_chart_was_closed_which_is_not_undone():
    phrases = ["208 missing", "close the chart", "yes", "open the chart again", "209 missing"]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+l")
        await see(pilot, "undo 1  “209 missing”")
        assert "undo 2" not in screen_of(app)
