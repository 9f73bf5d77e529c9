"""How each view looks: compared, as text with its inks, with what a person has looked at.

After a change that is meant: `python -m pytest tests/test_screen_snapshots.py --snapshot-update`,
then read the difference (see DEVELOPERS.md).
"""

from collections.abc import Sequence

import pytest
from textual.widgets import Input

from dictate.listening.listener import Level, Partial
from dictate.screen.app import ChartingApp
from dictate.settings import ScreenSettings, Settings
from tests.case_store import kept_cases
from tests.screen_pilot import OPENED, Listening, app_of, see, session_of, understood
from tests.screen_text import ScreenFile, keep_still, screen_with_styles

SMALL, LARGE, HUGE = (80, 24), (120, 40), (200, 60)

VISITS = {
    "dog": (
        *("208 calculus 2", "208 pocket 5 mesial", "209 missing", "104 CCF", "309 furcation 2"),
        *(
            "309 mobility 2",
            "409 gingivitis 1 buccal 3 2 4",
            "calculus nine",
            "108 pocket 6 distal",
        ),
        *("305 missing", "undo", "110 calculus 3", "rest of the lower left normal"),
        *("308 pocket 4 mesial", "308 pocket 7 mesial"),
    ),
    "cat": (
        *("307 resorption 3", "407 missing", "205 missing", "104 CCF"),
        *(
            "208 calculus 2 gingivitis 2",
            "108 pocket 2 mesial",
            "409 furcation 1",
            "309 mobility 1",
        ),
        *("undo", "204 calculus 1", "204 calculus 2"),
    ),
}
"""Phrases of an invented visit: findings, a refusal, something taken back, an open question."""

OPENED_BY = {
    "chart": ((), "Type >"),
    "help": (("f1",), "Find help"),
    "plan": (("f7",), "Left to examine"),
    "findings": (("ctrl+f",), "Enter edits"),
    "doubts": (("ctrl+d",), "Enter yes"),
    "changes": (("ctrl+l",), "undo 1"),
    "big": (("ctrl+b",), "██"),
    "settings": (("ctrl+s",), "SETTINGS"),
    "cases": (("ctrl+o",), "Since an earlier visit"),
}
"""The keys that open a view, and what is seen once it is open."""
KINDS = [("dog", "dark"), ("cat", "light"), ("dog", "light"), ("cat", "dark")]
SIZES = [SMALL, LARGE, HUGE]
LOOKS = [
    (view, size, *KINDS[(place + number) % len(KINDS)])
    for place, view in enumerate(OPENED_BY)
    for number, size in enumerate(SIZES)
]
"""A view in each size; species and themes go round, so that each view is seen in three of their
four pairs, and each pair in every size."""


@pytest.fixture
def screens(snapshot):
    return snapshot.use_extension(ScreenFile)


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    """No settings of this machine."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    monkeypatch.setenv("TZ", "UTC")
    return tmp_path


async def at_rest(pilot) -> str:
    """The screen once it does not change any more."""
    keep_still(pilot.app)
    before, same = "", 0
    for _ in range(100):
        await pilot.pause(0.02)
        now = screen_with_styles(pilot.app)
        same = same + 1 if now == before else 0
        if same == 2:
            return now
        before = now
    pytest.fail(f"The screen does not come to rest:\n{before}")


async def press(pilot, keys):
    for key in keys:
        if key.startswith("="):
            assert isinstance(pilot.app.focused, Input)
            pilot.app.focused.value = key[1:]
            await pilot.pause()
        else:
            await pilot.press(key)


def program(species, theme, phrases: Sequence[str], listen=None, store=None):
    name = {"dog": "Mila", "cat": "Mirre"}[species]
    session = session_of(species, phrases, animal=name, now=lambda: OPENED)
    settings = Settings(screen=ScreenSettings(theme=theme))
    return ChartingApp(session, listen, app_of(session)._now, settings=settings, store=store)


def named(view, size, species, theme):
    return f"{view}-{size[0]}x{size[1]}-{species}-{theme}"


@pytest.mark.parametrize("look", LOOKS, ids=[named(*look) for look in LOOKS])
async def test_a_view_looks_as_before(look, screens, data):
    view, size, species, theme = look
    store = kept_cases(data) if view == "cases" else None
    app = program(species, theme, VISITS[species], store=store)
    keys, seen = OPENED_BY[view]
    async with app.run_test(size=size) as pilot:
        await pilot.press(*keys)
        await see(pilot, seen)
        if (view, species) == ("cases", "cat"):
            await press(pilot, ["=Zoe"])
            await see(pilot, "zoe-2: opened")
        assert await at_rest(pilot) == screens


STATES = {
    "empty": ((), (), "No tooth in hand"),
    "several-teeth-in-hand": (("101 to 103",), (), "3 teeth in hand"),
    "awake": (
        ("go to awake examination", "left lymph node enlarged", "level bite"),
        *((), "level bite"),
    ),
    "soft-tissue": (
        ("go to soft tissue", "mass left upper lip 5 by 7 mm pink smooth"),
        *((), "5 × 7 mm"),
    ),
    "treatment": (
        ("go to treatment", "208 surgical extraction", "left infraorbital block"),
        *((), "∪ext"),
    ),
    "note": (("208 missing", "take a note"), (), "taking a note"),
    "refused": (("208 calculus 9",), (), "✗ refused"),
    "close-asks": (("208 missing", "close the chart"), (), "YES charts"),
    "closed": (("208 missing", "close the chart", "yes"), (), "CHARTING: closed as final"),
    "help-searched": (("208 missing",), ("f1", "=furcation"), "furcation two"),
    "findings-edited": (("208 pocket 5 mesial",), ("ctrl+f", "enter"), "208 >"),
    "findings-edit-refused": (
        ("208 pocket 5 mesial",),
        ("ctrl+f", "enter", "=pocket 45 mm mesial", "enter"),
        "! Write one",
    ),
    "plan-changed": (("104 CCF",), ("f7", "ctrl+e", "ctrl+e"), "Enter keep the text"),
    "big-refused": (("208 calculus 2", "209 calculus 9"), ("ctrl+b",), "C a l c u l u s"),
    "setting-typed": ((), ("ctrl+s", *["down"] * 9, "enter", "=Dixie"), "small letters"),
}
"""What is typed, what is pressed then, and what is seen in the end; words after = are put on the
line that is typed on."""


@pytest.mark.parametrize("state", STATES)
async def test_a_state_of_a_small_screen_looks_as_before(state, screens):
    phrases, keys, seen = STATES[state]
    app = program("dog", "dark", phrases)
    async with app.run_test(size=SMALL) as pilot:
        await press(pilot, keys)
        await see(pilot, seen)
        assert await at_rest(pilot) == screens


HEARD = {
    "listening": (Level(-30.0, False), "● LISTENING"),
    "speaking-so-far": (Partial("two oh eight calculus"), "» two oh eight calculus …"),
    "not-listening": (understood("stop listening"), "■ NOT LISTENING"),
    "question-with-readings": (
        understood("209 calculus three", "doubtful", alternatives=("209 calculus two",)),
        "or 2 charts",
    ),
}


@pytest.mark.parametrize("state", HEARD)
async def test_what_is_heard_looks_as_before(state, screens):
    told, seen = HEARD[state]
    listening = Listening()
    app = program("cat", "dark", ("104 CCF",), listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False), told)
        await see(pilot, "LISTENING")
        await see(pilot, seen)
        await see(pilot, "dBFS")
        assert await at_rest(pilot) == screens


def test_every_view_is_looked_at_in_every_size_species_and_theme():
    for view in OPENED_BY:
        looks = [each for each in LOOKS if each[0] == view]
        assert {look[1] for look in looks} == set(SIZES)
        assert {look[2] for look in looks} == {"dog", "cat"}
        assert {look[3] for look in looks} == {"dark", "light"}
    assert {look[1:] for look in LOOKS} == {(s, *kind) for s in SIZES for kind in KINDS}
