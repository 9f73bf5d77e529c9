"""The list of cases on the screen. How it looks is our own: no source."""

import pytest
from textual.widgets import Input

from dictate.errors import DictateError
from dictate.listening.listener import Level
from dictate.screen.case_choice import BeginCase, OpenCase
from dictate.screen.case_form import FIELDS, entered_fields_of
from dictate.screen.case_list import MOST_SHOWN, CaseList, CasesApp
from dictate.screen.case_table import MARK, CaseTable
from dictate.screen.keys import Keys
from dictate.store.case_query import CaseQuery
from dictate.store.cases import CaseStore
from tests.case_store import keep, kept_cases
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

HUGE = (200, 60)


@pytest.fixture
def store(tmp_path):
    return kept_cases(tmp_path)


def marked(app):
    return [line for line in screen_of(app).splitlines() if MARK in line]


async def type_words(pilot, words):
    pilot.app.screen.query_one(Input).value = words
    await pilot.pause()


async def click_key(pilot, name):
    keys = pilot.app.screen.query_one(Keys)
    lines = screen_of(pilot.app).splitlines()
    at = next(y for y, line in enumerate(lines) if y >= keys.region.y and name in line)
    await pilot.click(offset=(lines[at].index(name), at))
    await pilot.pause(0.1)


@pytest.mark.parametrize("size", [SMALL, LARGE, HUGE])
async def test_cases_and_what_changed_since_the_last_visit_are_on_the_screen(store, size):
    app = CasesApp(store)
    async with app.run_test(size=size) as pilot:
        await see(pilot, "compared with")
        shown = screen_of(app)
        [line] = marked(app)
        assert "2026-05-04  Mila" in line
        assert "Cases · 5" in shown and "Find >" in shown
        assert "Esc leave" in shown.splitlines()[-1]
        for words in ("Mila: dog, Border Collie, owner", "2 of 42 teeth examined."):
            await see(pilot, words)
        await pilot.press("pagedown")
        await see(pilot, "208 mesial: 4 mm then, 7 mm now: 3")


async def test_the_ground_is_shown_with_the_comparison(store):
    app = CasesApp(store)
    async with app.run_test(size=HUGE) as pilot:
        await see(pilot, "The same animal: both dogs named Mila, owner reference")
        await see(pilot, "404: lost since: present then, missing now")


async def test_typing_narrows_the_list_and_enter_opens(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        await pilot.press(*"zoe")
        await see(pilot, "Cases · 2")
        await pilot.press("down", "enter")
        await pilot.pause()
    assert app.return_value == OpenCase("zoe-1")


async def test_enter_opens_nothing_that_is_about_to_make_room_for_what_was_typed(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        app.screen.query_one(Input).value = "zoe"
        app.screen.action_open()
        assert app.return_value is None
        await see(pilot, "Cases · 2")
        await pilot.press("enter")
        await pilot.pause()
    assert app.return_value == OpenCase("zoe-2")


async def test_days_narrow_the_list(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await type_words(pilot, "2026-04")
        await see(pilot, "Cases · 2")
        await type_words(pilot, "2026-04-04")
        await see(pilot, "Cases · 1")
        assert "Zoë" in marked(app)[0]
        await type_words(pilot, "nobody")
        await see(pilot, "Cases · none fits")
        await pilot.press("enter", "down", "ctrl+r", "ctrl+p")
        await pilot.pause()
        assert isinstance(app.screen, CaseList)


async def test_a_click_chooses_and_a_double_click_opens(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        table = app.screen.query_one(CaseTable)
        row = next(y for y, line in enumerate(screen_of(app).splitlines()) if "Bo " in line)
        await pilot.click(offset=(20, row))
        await see(pilot, "bo-1: opened")
        assert table.chosen.case.id == "bo-1"
        await pilot.press("x")
        assert app.screen.query_one(Input).value == "x"
        await pilot.press("backspace")
        await see(pilot, "Cases · 5")
        await pilot.click(offset=(20, row), times=2)
        await pilot.pause()
    assert app.return_value == OpenCase("bo-1")


async def test_keys_can_be_clicked(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        await click_key(pilot, "↓ down")
        await see(pilot, "zoe-2: opened")
        await click_key(pilot, "Enter open")
    assert app.return_value == OpenCase("zoe-2")


async def test_leaving_chooses_nothing(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        await pilot.press("escape")
    assert app.return_value is None


async def test_a_visit_that_may_be_of_the_animal_is_compared_only_when_asked(store):
    app = CasesApp(store)
    async with app.run_test(size=HUGE) as pilot:
        await type_words(pilot, "zoe 2026-05")
        await see(pilot, "No earlier visit is certainly of the same animal")
        assert "104 mesial" not in screen_of(app)
        await pilot.press("ctrl+p")
        await see(pilot, "Possibly the same animal, which a person has to know")
        await see(pilot, "104 mesial: 1 mm then, 3 mm now: 2 mm deeper")


async def test_possible_visits_are_shown_in_turn(store):
    keep(store, "zoe-0", 90, "104 calculus 1", species="cat", animal="Zoe", owner_reference="")
    app = CasesApp(store)
    async with app.run_test(size=HUGE) as pilot:
        await type_words(pilot, "k-7")
        await see(pilot, "2 visits that may be of the same animal")
        for earlier in ("zoe-1", "zoe-0", "zoe-1"):
            await pilot.press("ctrl+p")
            await see(pilot, f"zoe-2 of 2026-05-01 compared with {earlier}")


async def test_a_new_case_is_checked_before_it_begins(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        await pilot.press("ctrl+n")
        await see(pilot, "New case")
        await pilot.press(*"Fips", "ctrl+s")
        await see(pilot, "species cannot be '': write dog or cat.")
        await pilot.press("down", *"cat", "enter", "enter", *"soon", "ctrl+s")
        await see(pilot, "birth_date cannot be 'soon'")
        await pilot.press(*["backspace"] * 4, *"2024-02-29", "ctrl+s")
        await pilot.pause()
    assert app.return_value == BeginCase(
        {
            "animal": "Fips",
            "species": "cat",
            "birth_date": entered_fields_of({"birth_date": "2024-02-29"})["birth_date"],
            "index_scale": 4,
        }
    )


@pytest.mark.parametrize("size", [SMALL, LARGE, HUGE])
async def test_every_field_and_key_of_a_new_case_is_on_the_screen(store, size):
    app = CasesApp(store)
    async with app.run_test(size=size) as pilot:
        await pilot.press("ctrl+n")
        await see(pilot, "New case")
        shown = screen_of(app)
        assert all(title in shown for title, _ in FIELDS.values())
        assert "^S begin the visit" in shown.splitlines()[-1]
        await pilot.press("escape")
        await see(pilot, "Cases · 5")


async def test_a_new_visit_of_the_chosen_animal_is_filled_in(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · 5")
        await pilot.press("ctrl+r")
        await see(pilot, "New case")
        await pilot.press("ctrl+s")
        await pilot.pause()
    fields = {"species", "animal", "breed", "clinician", "owner_reference"}
    mila = store.load("mila-2")[0]
    assert app.return_value == BeginCase(
        {**{field: getattr(mila, field) for field in fields}, "index_scale": 4}
    )


async def test_the_last_field_begins_on_enter(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+n")
        await see(pilot, "New case")
        await pilot.press("tab", *"DOG", *["enter"] * 6)
        await pilot.pause()
    assert app.return_value == BeginCase({"species": "dog", "index_scale": 4})


def test_what_cannot_be_a_number_or_a_day_is_left_to_be_refused():
    typed = {"index_scale": "5", "birth_date": "soon", "breed": " ", "species": ""}
    assert entered_fields_of(typed) == {"index_scale": "5", "birth_date": "soon", "species": ""}


async def test_an_empty_store_says_so(tmp_path):
    app = CasesApp(CaseStore(tmp_path / "cases.sqlite"))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "Cases · none yet")
        await pilot.press("enter", "down", "ctrl+p", "ctrl+r")
        await see(pilot, "Cases · none yet")
        await pilot.press("ctrl+n")
        await see(pilot, "New case")


async def test_that_more_cases_fit_than_are_shown_is_said(tmp_path):
    store = CaseStore(tmp_path / "cases.sqlite")
    for number in range(MOST_SHOWN + 3):
        keep(store, f"case-{number}", number)
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, f"Cases · {MOST_SHOWN} of {MOST_SHOWN + 3}: type to narrow")
        await pilot.press("ctrl+down")
        assert app.screen.query_one(CaseTable).chosen.case.id == "case-8"


async def test_a_case_that_cannot_be_read_is_a_sentence_and_the_list_stays(store, monkeypatch):
    def fails(_case_id):
        raise DictateError("It holds an entry that this dictate cannot read: use a newer one.")

    app = CasesApp(store)
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "compared with")
        monkeypatch.setattr(store, "load", fails)
        await pilot.press("down")
        await see(pilot, "! It holds an entry that this dictate cannot read")
        assert "Mila" in screen_of(app)
        monkeypatch.undo()
        await pilot.press("down")
        await see(pilot, "bo-1: opened")
        assert "! It holds" not in screen_of(app)


async def test_names_that_could_be_mark_up_or_hidden_are_shown_as_they_are(store):
    keep(store, "odd", -1, animal="[red]R\u202eex", breed="a" * 90)
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "[red]R⟨U+202E⟩ex:")
        assert "\u202e" not in screen_of(app)
        assert "[red]R⟨U+202E⟩ex" in marked(app)[0] and "aaaaaaaaaaa…" in marked(app)[0]


async def test_looking_opens_nothing_and_no_key_reaches_the_session_below(store):
    session = session_of(phrases=["208 pocket 5", "208 pocket 6"])
    app = app_of(session)
    results = []
    async with app.run_test(size=LARGE) as pilot:
        app.push_screen(CaseList(store, open_case=False), results.append)
        await see(pilot, "to look at only")
        events = len(session.events)
        assert "Enter open" not in screen_of(app)
        await pilot.press("enter", "ctrl+n", "ctrl+r", "f2", "f3", "f4", "ctrl+z", "pagedown")
        await pilot.pause()
        assert len(session.events) == events
        assert isinstance(app.screen, CaseList)
        await pilot.press("escape")
        await see(pilot, "Type >")
    assert results == [None]


async def test_what_is_said_while_looking_is_charted_and_asked_about_below(store):
    session = session_of(phrases=["208 pocket 5"])
    listening = Listening()
    app = app_of(session, listening)
    async with app.run_test(size=LARGE) as pilot:
        app.push_screen(CaseList(store, open_case=False))
        await see(pilot, "to look at only")
        listening.says(Level(-40.0, False), understood("two oh eight pocket seven"))
        await pilot.pause(0.2)
        assert len(session.doubts) == 1
        await pilot.press("escape")
        await see(pilot, "208 has pocket 5 mm. Replace by pocket 7 mm?")
        assert app.default_screen.has_class("-asking")


async def test_light_and_dark(store):
    app = CasesApp(store)
    async with app.run_test(size=SMALL) as pilot:
        dark = app.theme
        await pilot.press("f6")
        assert app.theme != dark


def test_the_list_and_the_search_agree(store):
    assert store.search(CaseQuery()).total == len(store.cases())
