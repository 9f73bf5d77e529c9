"""The view of what follows. How it looks is our own: no source. The rules whose texts are seen
here are tested with the assessment."""

import pytest
from textual.widgets import Input

from dictate.errors import DictateError
from dictate.listening.listener import Level, Partial, Stopped
from dictate.screen.follows import Follows
from dictate.screen.keys import LISTEN, Keys
from dictate.screen.proposal import ProposalFace, ProposalRow
from tests.screen_pilot import (
    LARGE,
    SMALL,
    Listening,
    app_of,
    screen_of,
    see,
    session_of,
    understood,
)

TALL = (80, 60)
TO_DECIDE = "What follows · For the clinician to decide"
CLEAN = "Scaling above and below the gum margin, polishing, and daily home care to consider"


def decisions(session):
    return [(each.tooth, each.rule, each.decision, each.text) for each in session.chart.decisions]


def row_of(app, tooth, rule):
    return next(row for row in app.query(ProposalRow) if row.key == (tooth, rule))


async def open_view(pilot):
    await pilot.press("f7")
    await see(pilot, TO_DECIDE)
    await pilot.pause()


async def click_choice(pilot, app, row, choice):
    face = row.query_one(ProposalFace)
    line = screen_of(app).splitlines()[face.region.y]
    await pilot.click(face, offset=(line.rindex(choice) - face.region.x, 0))
    await pilot.pause()


async def test_what_follows_is_told_with_reasons_and_sources():
    phrases = ["208 pocket 6 mesial furcation 2", "309 CCF", "404 missing", "108 normal"]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=(100, 90)) as pilot:
        await open_view(pilot)
        shown = screen_of(app)
    assert "Teeth not charted: 110, 109, 107–101, 201–207, 209, 210" in shown
    assert "No probing depths: 208, 309" in shown
    assert "Soft tissue: not examined: tongue; palate; tonsil" in shown
    assert "208: PD3, provisional. Stage 2 furcation." in shown
    assert "108: PD0. Charted present and normal." in shown
    assert "Source: AVDC nomenclature, Periodontal Disease" in shown
    assert "309: 309 has a complicated fracture and nothing from a radiograph" in shown
    assert "Open root planing (flap) or extraction to consider" in shown
    assert "Source: WSAVA Global Dental Guidelines, from memory: confirm" in shown
    assert "0 of 5 decided" in shown


async def test_an_empty_chart_has_nothing_to_decide():
    app = app_of(session_of())
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        shown = screen_of(app)
    for words in ("No tooth has one yet.", "None yet.", "Nothing is agreed yet."):
        assert words in shown


@pytest.mark.parametrize("key", ["escape", "f7"])
async def test_keys_lead_back_to_the_mouth_and_to_typing(key):
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await open_view(pilot)
        assert "[208]" not in screen_of(app)
        await pilot.press(key)
        await see(pilot, "[208]")
        await pilot.press(*"209 normal", "enter")
        await see(pilot, "[209]")
    assert session.chart.charted_teeth == {208, 209}


@pytest.mark.parametrize(
    "key, decision, state, text",
    [("ctrl+a", "accepted", "✓ accepted", CLEAN), ("ctrl+x", "dismissed", "✗ dismissed", "")],
)
async def test_a_proposal_is_decided_by_a_key(key, decision, state, text):
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await see(pilot, "▸208 ○ waits for a decision")
        await pilot.press(key)
        await see(pilot, f"▸208 {state}")
        await see(pilot, "1 of 1 decided")
    assert decisions(session) == [(208, "clean", decision, text)]


@pytest.mark.parametrize("choice, decision", [("accept", "accepted"), ("dismiss", "dismissed")])
async def test_a_proposal_is_decided_by_the_mouse(choice, decision):
    session = session_of(phrases=["208 calculus 2", "209 calculus 1"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await click_choice(pilot, app, row_of(app, 209, "clean"), choice)
        await see(pilot, decision)
    assert [each[:3] for each in decisions(session)] == [(209, "clean", decision)]


async def test_a_click_beside_the_choices_only_chooses():
    session = session_of(phrases=["208 calculus 2", "209 calculus 1"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.click(row_of(app, 209, "clean").query_one(ProposalFace), offset=(8, 1))
        await see(pilot, "▸209")
        assert "▸208" not in screen_of(app)
    assert decisions(session) == []


async def test_a_text_is_changed_in_place():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await open_view(pilot)
        await pilot.press("down", "ctrl+e")
        await see(pilot, "keep the text")
        line = app.query_one(ProposalRow).query_one(Input)
        assert line.value == CLEAN
        assert line.region.bottom <= app.query_one(Follows).body.region.bottom
        await pilot.press("end", *", in two weeks", "enter")
        await see(pilot, "✓ changed")
        await see(pilot, "Changed to: ")
        await see(pilot, "^A accept")
    assert decisions(session) == [(208, "clean", "changed", f"{CLEAN}, in two weeks")]


async def test_a_text_is_changed_by_the_mouse():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await click_choice(pilot, app, row_of(app, 208, "clean"), "change")
        await pilot.press("end", "!")
        await pilot.click(Keys, offset=(3, 0))
        await see(pilot, "✓ changed")
    assert decisions(session)[0][3] == CLEAN + "!"


async def test_letters_that_are_keys_are_letters_while_a_text_is_changed():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+e", "end", *"acd", "ctrl+z", "f7", "enter")
        await see(pilot, "✓ changed")
    assert [each[3] for each in decisions(session)] == [CLEAN + "acd"]
    assert session.chart.charted_teeth == {208}


async def test_escape_leaves_a_text_as_it_was_and_then_the_view():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+e", "x", "escape")
        await see(pilot, "^A accept")
        assert TO_DECIDE in screen_of(app)
        assert not app.query_one(ProposalRow).is_editing
        await pilot.press("escape")
        await see(pilot, "[208]")
    assert decisions(session) == []


async def test_an_empty_text_is_not_kept():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+e", "end", "ctrl+u", "enter")
        await see(pilot, "! Write what is to be done, or Esc, then dismiss it.")
        await pilot.press("escape")
        await pilot.pause()
        assert "Write what is to be done" not in screen_of(app)
    assert decisions(session) == []


async def test_a_text_left_as_proposed_is_accepted():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+e", "enter")
        await see(pilot, "✓ accepted")
    assert decisions(session) == [(208, "clean", "accepted", CLEAN)]


async def test_what_was_decided_can_be_decided_again_and_undone():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+a", "ctrl+x")
        await see(pilot, "✗ dismissed")
        await pilot.press("ctrl+z")
        await see(pilot, "✓ accepted")
        await pilot.press("ctrl+z")
        await see(pilot, "○ waits for a decision")
        await pilot.press("ctrl+y")
        await see(pilot, "✓ accepted")


async def test_a_decision_whose_finding_is_gone_is_shown_to_be_decided_again():
    session = session_of(phrases=["208 calculus 2"])
    session.decide([208], "clean", "accepted", CLEAN)
    session.type_text("change 208 calculus to 0")
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await see(pilot, "no longer propose this: decide again.")
        await pilot.press("ctrl+x")
        await see(pilot, "Nothing is agreed yet.")


async def test_the_plan_stands_by_quadrant_with_blocks_and_cautions():
    session = session_of("cat", ["304 CCF", "104 CCF", "204 calculus 1"])
    session.decide([304], "exposed_pulp", "accepted", "Extraction")
    session.decide([104], "exposed_pulp", "changed", "Refer")
    app = app_of(session)
    async with app.run_test(size=(100, 90)) as pilot:
        await open_view(pilot)
        shown = screen_of(app)
    plan = shown[shown.index("Plan, as agreed; no doses") :]
    places = ["Upper right", "104: Refer (changed by the clinician)", "block: Infraorbital"]
    places += ["The infraorbital canal is short and lies under the eye", "Lower left"]
    places += ["304: Extraction", "block: Mental"]
    assert [plan.index(words) for words in places] == sorted(plan.index(each) for each in places)
    assert "Upper left" not in plan
    assert "mg" not in plan and "mL" not in plan


async def test_voice_charting_goes_on_and_the_view_follows():
    session, listening = session_of(phrases=["208 calculus 2"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=TALL) as pilot:
        listening.says(Level(-30.0, False))
        await open_view(pilot)
        await pilot.press("ctrl+e", "end", "!")
        listening.says(Partial("one oh eight ccf"))
        await see(pilot, "» one oh eight ccf …")
        listening.says(Partial(""), understood("one oh eight complicated crown fracture"))
        await see(pilot, "108: fracture CCF")
        await see(pilot, "108 has a complicated fracture")
        row = row_of(app, 208, "clean")
        assert row.is_editing and row.query_one(Input).value == CLEAN + "!"
        await pilot.press("enter")
        await see(pilot, "✓ changed")
        keys = [each.key[0] for each in app.query(ProposalRow)]
    assert keys == [108, 108, 208]
    assert [each[0] for each in decisions(session)] == [208]


async def test_a_doubt_is_asked_and_answered_in_the_view():
    session = session_of(phrases=["208 pocket 6 mesial", "pocket 7 mesial"])
    app = app_of(session)
    async with app.run_test(size=LARGE) as pilot:
        await open_view(pilot)
        await see(pilot, "? 208 has pocket 6 mm mesial. Replace by pocket 7 mm mesial?")
        await pilot.press("f2")
        await see(pilot, "Attachment loss 7 mm")
    assert [each.value for each in session.chart.on(208)] == [7]


async def test_a_key_for_a_proposal_that_goes_decides_on_no_other():
    session = session_of(phrases=["209 calculus 1", "208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await see(pilot, "▸208")
        await pilot.press("ctrl+z", "ctrl+a")
        await see(pilot, "0 of 1 decided")
        assert decisions(session) == []
        await pilot.press("down", "ctrl+a")
        await see(pilot, "▸209 ✓ accepted")
        await pilot.press("escape")
        await see(pilot, "Type >")
    assert [each[0] for each in decisions(session)] == [209]


@pytest.mark.parametrize("key, left", [("enter", 1), ("escape", 0)])
async def test_a_text_is_not_lost_when_its_proposal_goes(key, left):
    session, listening = session_of(phrases=["208 calculus 2"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+e", "end", "!")
        listening.says(understood("undo"))
        await see(pilot, "no longer propose this")
        assert app.query_one(ProposalRow).query_one(Input).value == CLEAN + "!"
        await pilot.press(key)
        await see(pilot, "Esc chart")
        await pilot.pause()
        assert len(app.query(ProposalRow)) == left
    assert [each[3] for each in decisions(session)] == [CLEAN + "!"] * left


async def test_what_is_out_of_sight_is_not_decided_on():
    session = session_of(phrases=["all upper left calculus 2", "208 CCF"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await open_view(pilot)
        assert not app.query_one(Follows).is_in_sight(row_of(app, 201, "clean"))
        await pilot.press("ctrl+a")
        await see(pilot, "▸201 ○ waits for a decision")
        assert decisions(session) == []
        await pilot.press("ctrl+a")
        await see(pilot, "▸201 ✓ accepted")
    assert [each[0] for each in decisions(session)] == [201]


async def test_arrows_choose_and_pages_scroll_without_taking_a_tooth():
    session = session_of(phrases=["all upper left calculus 2"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await open_view(pilot)
        before = len(session.events)
        await pilot.press("down")
        await see(pilot, "▸201")
        await pilot.press("down")
        await see(pilot, "▸202")
        await pilot.press("up")
        await see(pilot, "▸201")
        top = app.query_one(Follows).body.scroll_y
        await pilot.press("pagedown", "pagedown")
        await pilot.pause(0.5)
        assert app.query_one(Follows).body.scroll_y > top
        assert "▸201" not in screen_of(app)
        assert TO_DECIDE in screen_of(app)
        await pilot.press("down")
        await see(pilot, "▸")
        assert "▸201" not in screen_of(app)
        await pilot.press("pageup", "ctrl+left", "ctrl+right")
        await pilot.pause()
        assert len(session.events) == before


@pytest.mark.parametrize("size", [SMALL, LARGE])
async def test_every_key_of_the_view_is_shown(size):
    app = app_of(session_of(phrases=["208 calculus 2"]), Listening())
    async with app.run_test(size=size) as pilot:
        app.query_one(Keys).attention = LISTEN
        await open_view(pilot)
        await pilot.pause()
        shown = " ".join(screen_of(app).splitlines()[-2:])
        keys = "^A ^E ^X ^T ↑ ↓ PgUp PgDn Esc F2 F3 F4 F5 ^Z ^Y ^Q"
        assert all(f"{key} " in shown for key in keys.split())
        app.query_one(Keys).attention = None
        await see(pilot, "F6 light")


@pytest.mark.parametrize(
    "name, seen",
    [("accept", "✓ accepted"), ("dismiss", "✗ dismissed"), ("change", "keep the text")],
)
async def test_the_keys_of_the_view_can_be_clicked(name, seen):
    app = app_of(session_of(phrases=["208 calculus 2"]))
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        line = screen_of(app).splitlines()[-2]
        await pilot.click(Keys, offset=(line.index(name), 0))
        await see(pilot, seen)


async def test_the_next_part_is_reached_from_the_view():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await open_view(pilot)
        await pilot.press("f4")
        await see(pilot, " RADIOGRAPHS ")
        await see(pilot, TO_DECIDE)


async def test_a_decision_that_cannot_be_saved_changes_nothing_and_keeps_the_text():
    full = []

    def save(events):
        if full:
            raise DictateError("The disk is full: free some space.")

    session = session_of(phrases=["208 calculus 2"], save=save)
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        full.append(True)
        await pilot.press("ctrl+e", "end", "!", "enter")
        await see(pilot, "nothing was changed: “changed 208: ")
        assert app.query_one(ProposalRow).query_one(Input).value == CLEAN + "!"
        assert decisions(session) == []
        full.clear()
        await pilot.press("enter")
        await see(pilot, "✓ changed")
    assert decisions(session)[0][3] == CLEAN + "!"


async def test_what_looks_like_markup_in_a_changed_text_is_shown_as_it_is():
    session = session_of(phrases=["208 calculus 2"])
    session.decide([208], "clean", "changed", "[red]polish[/red] \x1b[31m")
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await see(pilot, "Changed to: [red]polish[/red] ␛[31m")
        await see(pilot, "208: [red]polish[/red] ␛[31m (changed by the clinician)")


async def test_a_problem_is_said_in_the_view():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await open_view(pilot)
        listening.says(Stopped("The microphone is gone: plug it in."))
        await see(pilot, "! Not listening any more: The microphone is gone: plug it in.")
        await see(pilot, "F5 listen")
        await see(pilot, TO_DECIDE)


async def test_one_key_accepts_the_same_for_all_teeth_that_wait_and_one_undo_takes_it_back():
    session = session_of(phrases=["201 to 203 calculus 1", "208 calculus 2"])
    session.decide([202], "clean", "dismissed")
    app = app_of(session)
    async with app.run_test(size=TALL) as pilot:
        await open_view(pilot)
        await pilot.press("ctrl+t")
        await see(pilot, "✓ accepted")
        assert [each[:3] for each in decisions(session)] == [
            (202, "clean", "dismissed"),
            (201, "clean", "accepted"),
            (203, "clean", "accepted"),
            (208, "clean", "accepted"),
        ]
        await pilot.press("ctrl+z")
        await pilot.pause()
        assert [each[:3] for each in decisions(session)] == [(202, "clean", "dismissed")]
