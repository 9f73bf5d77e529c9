"""Every action of the screen, done by its key and by what is said for it: both have one effect."""

from contextlib import suppress
from dataclasses import dataclass

import numpy as np
import pytest
from textual.pilot import WaitForScreenTimeout

from dictate.listening.listener import Level
from dictate.screen import attending
from dictate.screen.actions import ACTIONS
from dictate.screen.app import ChartingApp
from dictate.screen.follows import Follows
from dictate.settings import SoundSettings
from dictate.sounds.answers import Answers
from dictate.sounds.turns import Turns
from dictate.store.cases import CaseStore
from tests.screen_pilot import LARGE, OPENED, SMALL, Listening, see, session_of, understood
from tests.test_sounds import FakeOutput

POCKETS = ("208 pocket 5 mesial",)
ASKED = (*POCKETS, "208 pocket 7 mesial")
FRACTURES = ("104 CCF", "204 CCF")


@dataclass(frozen=True)
class Scene:
    """What is typed before, which view is opened by which key, what is heard before, and how often
    the words have to be said."""

    phrases: tuple[str, ...] = POCKETS
    view: str = ""
    heard: tuple[object, ...] = ()
    times: int = 1
    keys_before: tuple[str, ...] = ()


UNSURE = understood(
    "209 calculus three", "doubtful", alternatives=("209 calculus two", "209 calculus one")
)

SCENES = {
    "show('help')": Scene(),
    "answer(1)": Scene(ASKED),
    "answer(0)": Scene(ASKED),
    "answer(2)": Scene(heard=(UNSURE,)),
    "answer(3)": Scene(heard=(UNSURE,)),
    "next_part": Scene(),
    "turn_attention": Scene(),
    "turn_light": Scene(),
    "show('plan')": Scene(),
    "turn_sounds": Scene(),
    "say('undo')": Scene(),
    "say('redo')": Scene((*POCKETS, "undo")),
    "say('previous tooth')": Scene(),
    "say('next tooth')": Scene(),
    "show('findings')": Scene(),
    "show('doubts')": Scene(),
    "show('changes')": Scene(),
    "show('big')": Scene(),
    "show_settings": Scene(),
    "show_cases": Scene(),
    "say('close the chart')": Scene(),
    "say('open the chart again')": Scene((*POCKETS, "close the chart", "yes")),
    "leave_program": Scene(times=2),
    "take_back_finding": Scene(view="ctrl+f"),
    "decide('accept')": Scene(FRACTURES, "f7", keys_before=("down",)),
    "decide('change')": Scene(FRACTURES, "f7", keys_before=("down",)),
    "decide('dismiss')": Scene(FRACTURES, "f7", keys_before=("down",)),
    "accept_alike": Scene(FRACTURES, "f7"),
    "choose(-1)": Scene(FRACTURES, "f7", keys_before=("down", "down")),
    "choose(1)": Scene(FRACTURES, "f7", keys_before=("down",)),
    "silence": Scene(),
    "leave": Scene(view="f1"),
}
"""A scene in which each action has something to do. What ends a sound has no words, since nothing
is heard meanwhile: its key is tested in test_screen_attention."""

SPOKEN = [each for each in ACTIONS if each.say]


@pytest.fixture(autouse=True)
def surroundings(tmp_path, monkeypatch):
    """No settings of this machine, and keys that follow on each other fast."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    monkeypatch.setattr(attending, "_REPEATED_S", 0.0)
    return tmp_path


@dataclass(frozen=True)
class State:
    """All that an action may change: of the session, of the screen, and whether it runs on."""

    findings: tuple
    in_hand: int | None
    part: str
    closed: bool
    decisions: tuple
    doubts: tuple
    listens: bool
    sounds: bool
    view: str
    screen: str
    theme: str
    proposal: tuple | None
    changing: bool
    runs: bool


def state_of(app):
    session, chart = app._session, app._session.chart
    runs = app.is_running
    proposal = app.screen_stack[0].query_one(Follows).chosen if runs else None
    return State(
        findings=tuple(
            sorted((f.tooth, f.kind, str(f.site), str(f.value)) for f in chart.findings)
        ),
        in_hand=chart.tooth_in_hand,
        part=chart.context,
        closed=chart.closed,
        decisions=tuple((d.tooth, d.rule, d.decision) for d in chart.decisions),
        doubts=tuple(each.heard.text for each in session.doubts),
        listens=session.is_listening,
        sounds=app._answers.are_on,
        view=app.view,
        screen=type(app.screen).__name__ if runs else "",
        theme=app.theme,
        proposal=proposal.key if proposal else None,
        changing=bool(proposal and proposal.is_editing),
        runs=runs,
    )


async def come_to_rest(pilot):
    """Wait until nothing changes any more, or the program has ended."""
    before, same = None, 0
    for _ in range(100):
        with suppress(WaitForScreenTimeout):
            await pilot.pause(0.02)
        if not pilot.app.is_running:
            return
        now = state_of(pilot.app)
        same = same + 1 if now == before else 0
        if same == 2:
            return
        before = now
    pytest.fail("The screen does not come to rest.")


async def before_and_after(folder, scene, do):
    """Return the states before and after `do`, which is given the pilot and the listener."""
    folder.mkdir()
    listening, session = Listening(), session_of(phrases=scene.phrases, now=lambda: OPENED)
    store = CaseStore(folder / "cases.sqlite")
    store.add_case(session.case)
    output = FakeOutput()
    answers = Answers(SoundSettings(), Turns(0.0), output, lambda words, s: np.ones(9))
    app = ChartingApp(session, listening, lambda: OPENED, answers, store=store)
    async with app.run_test(size=LARGE if scene.view else SMALL) as pilot:
        listening.says(Level(-30.0, False), *scene.heard)
        await see(pilot, "● LISTENING")
        if scene.heard:
            await see(pilot, "YES charts")
        if scene.view:
            await pilot.press(scene.view)
            await see(pilot, "Esc chart")
        for key in scene.keys_before:
            await pilot.press(key)
        await come_to_rest(pilot)
        before = state_of(app)
        await do(pilot, listening)
        await come_to_rest(pilot)
        after = state_of(app)
    return before, after


def test_every_action_has_a_scene():
    assert set(SCENES) == {each.run for each in ACTIONS}


@pytest.mark.parametrize("action", SPOKEN, ids=[each.run for each in SPOKEN])
async def test_a_key_and_what_is_said_do_the_same(action, tmp_path):
    scene = SCENES[action.run]

    async def by_key(pilot, listening):
        await pilot.press(action.keys.split(",")[0])

    async def by_voice(pilot, listening):
        for _ in range(scene.times):
            listening.says(understood(action.say))
            await come_to_rest(pilot)

    before, by_key_after = await before_and_after(tmp_path / "key", scene, by_key)
    before_said, by_voice_after = await before_and_after(tmp_path / "voice", scene, by_voice)
    assert before == before_said
    assert by_key_after != before
    assert by_voice_after == by_key_after


@pytest.mark.parametrize(
    "action, key",
    [(each, key) for each in SPOKEN for key in each.keys.split(",")[1:]],
    ids=lambda value: getattr(value, "run", value),
)
async def test_a_further_key_does_the_same_as_the_first(action, key, tmp_path):
    results = []
    for number, pressed in enumerate((action.keys.split(",")[0], key)):

        async def press(pilot, listening, pressed=pressed):
            await pilot.press(pressed)

        results.append(await before_and_after(tmp_path / str(number), SCENES[action.run], press))
    assert results[0] == results[1]
    assert results[0][0] != results[0][1]
