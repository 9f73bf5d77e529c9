"""The settings on the screen: by key, by mouse, alone and over a chart that goes on listening."""

import asyncio

import pytest

from dictate.listening.listener import Level, Stopped
from dictate.listening.metering import RunningMicrophone
from dictate.screen import attending
from dictate.screen.app import ChartingApp
from dictate.screen.level import LevelBar
from dictate.screen.setting_row import SettingRow
from dictate.screen.settings_app import SettingsApp
from dictate.screen.settings_view import SettingsView
from dictate.screen.theme import DARK, LIGHT
from dictate.settings import SETTINGS_FILE, ScreenSettings, Settings, SoundSettings, read_settings
from dictate.sounds.answers import Answers
from dictate.sounds.turns import Turns
from tests.screen_pilot import (
    LARGE,
    OPENED,
    SMALL,
    Listening,
    screen_of,
    see,
    session_of,
    understood,
)
from tests.test_sounds import FakeOutput


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    """The data folder of a test, where no settings are kept yet."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    monkeypatch.setattr(attending, "_REPEATED_S", 0.0)
    return tmp_path


@pytest.fixture(params=[SMALL, LARGE])
def size(request):
    return request.param


def row_of(app, path):
    return next(row for row in app.screen.query(SettingRow) if row.setting.path == path)


async def choose(pilot, path):
    """Go down to a setting with the arrow key."""
    for _ in range(20):
        if pilot.app.screen.chosen is not None and pilot.app.screen.chosen.setting.path == path:
            return
        await pilot.press("down")
    pytest.fail(f"{path} is not reached:\n{screen_of(pilot.app)}")


async def test_every_setting_is_shown_with_its_value_and_its_meaning(size):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await see(pilot, "SETTINGS   each change is kept at once")
        assert "Esc back" in screen_of(app)
        for row in app.screen.query(SettingRow):
            lines = screen_of(app).splitlines()
            line = next(each for each in lines if f" {row.setting.shown.name} " in each)
            assert row.setting.words_of(row.setting.default) in line
            assert row.setting.meaning in line, line
            await pilot.press("down")


async def test_an_arrow_changes_a_number_and_keeps_it_at_once(size, data):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await choose(pilot, "sounds.volume")
        await pilot.press("right", "right", "left", "right")
        await see(pilot, "Volume: 0.7.")
        assert read_settings(data).sounds.volume == 0.7


async def test_keys_that_come_fast_are_meant_for_the_setting_they_went_to(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "SETTINGS")
        for key in ("down", "down", "down", "down", "right", "right"):
            app.simulate_key(key)
        await see(pilot, "Volume: 0.7.")
        assert (data / SETTINGS_FILE).read_text() == "[sounds]\nvolume = 0.7\n"


async def test_a_number_stops_at_its_limits(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "sounds.volume")
        await pilot.press(*["right"] * 8)
        await see(pilot, "Volume: 1.0.")
        assert "Not kept" not in screen_of(app)
        assert read_settings(data).sounds.volume == 1


async def test_enter_takes_the_next_of_few_values(size, data):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await choose(pilot, "sounds.read_back")
        await pilot.press("enter")
        await see(pilot, "Read back: what is asked.")
        await pilot.press("left", "left")
        await see(pilot, "Read back: everything.")
        assert read_settings(data).sounds.read_back == "all"


async def test_a_text_is_typed_and_what_is_wrong_with_it_is_said_at_once(size, data):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await choose(pilot, "attention.name")
        await pilot.press("enter", *"Rosie")
        await see(pilot, "attention.name cannot be 'Rosie'; it is one to three words")
        await pilot.press("enter")
        await see(pilot, "Not kept: attention.name cannot be 'Rosie'")
        assert not (data / SETTINGS_FILE).exists()
        await pilot.press(*["backspace"] * 5, *"rosie")
        await see(pilot, "Enter keeps it. A change takes effect when dictate is started again.")
        await pilot.press("enter")
        await see(pilot, "Name: rosie.")
        assert "Not kept" not in screen_of(app)
        assert read_settings(data).attention.name == "rosie"


async def test_esc_leaves_a_text_as_it_was_and_arrows_do_not_leave_it(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "sounds.rate")
        await pilot.press("enter", "backspace", "down", "up")
        assert app.screen.is_editing
        await pilot.press("escape")
        await see(pilot, "Reading speed: 170 words/min.")
        assert not app.screen.is_editing
        assert app.is_running
        assert not (data / SETTINGS_FILE).exists()


async def test_a_foot_switch_may_not_send_a_key_of_the_screen(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "attention.foot_switch")
        await pilot.press("enter", *"f2", "enter")
        await see(pilot, "Not kept: settings.toml: attention.foot_switch cannot be “f2”")
        assert not (data / SETTINGS_FILE).exists()


async def test_a_name_that_nobody_can_pronounce_is_not_kept(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "attention.name")
        await pilot.press("enter", *"xylqua", "enter")
        await see(pilot, "how “xylqua” sounds is not known")
        assert not (data / SETTINGS_FILE).exists()


async def test_an_engine_that_could_not_be_started_is_passed_over_with_the_reason(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "speech.engine")
        await pilot.press("right")
        await see(pilot, "Engine: sphinx.")
        await see(pilot, "Vosk has no English model here: run")
        await pilot.press("right")
        await see(pilot, "Engine: auto.")
        assert "Vosk has" not in screen_of(app)
        assert read_settings(data).speech.engine == "auto"


async def test_del_goes_back_to_the_default(data):
    (data / SETTINGS_FILE).write_text("[sounds]\nrate = 300 # fast\n")
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "sounds.rate")
        await pilot.press("delete")
        await see(pilot, "Reading speed: 170 words/min.")
    assert (data / SETTINGS_FILE).read_text() == "[sounds]\nrate = 170 # fast\n"


async def test_a_click_chooses_a_setting_and_a_click_on_its_value_changes_it(size, data):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await see(pilot, "SETTINGS")
        row = row_of(app, "screen.big_type")
        await pilot.click(row, offset=(3, 0))
        await see(pilot, "Big type: off.")
        assert not (data / SETTINGS_FILE).exists()
        await pilot.click(row, offset=(17, 0))
        await see(pilot, "Big type: on.")
        assert read_settings(data).screen.big_type


async def test_the_keys_can_be_clicked(data):
    app = SettingsApp()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "sounds.tones")
        lines = screen_of(app).splitlines()
        at = lines[-1].index("Enter change")
        await pilot.click(offset=(at + 2, len(lines) - 1))
        await see(pilot, "Tones: off.")
        await pilot.click(offset=(lines[-1].index("Esc back") + 1, len(lines) - 1))
        await pilot.pause()
        assert not app.is_running


async def test_the_theme_changes_at_once(size):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await choose(pilot, "screen.theme")
        assert app.theme == DARK.name
        await pilot.press("enter")
        assert app.theme == LIGHT.name


async def test_what_takes_effect_when_is_said(size):
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        for path, said in {
            "chart.index_scale": "for cases that are begun from now on, not for this one",
            "speech.engine": "when dictate is started again",
            "sounds.volume": "takes effect at once",
        }.items():
            await choose(pilot, path)
            await see(pilot, said)


async def test_a_broken_file_is_told_and_never_written_over(size, data):
    broken = "[sounds\nvolume = 1\n"
    (data / SETTINGS_FILE).write_text(broken)
    app = SettingsApp()
    async with app.run_test(size=size) as pilot:
        await see(pilot, "is not TOML")
        await choose(pilot, "sounds.tones")
        await pilot.press("enter")
        await see(pilot, "Not kept:")
        await see(pilot, "Tones: on.")
        assert (data / SETTINGS_FILE).read_text() == broken
        (data / SETTINGS_FILE).write_text("[sounds]\nvolume = 1\n")
        await pilot.press("enter")
        await see(pilot, "Tones: off.")
        assert "TOML" not in screen_of(app)
        assert row_of(app, "sounds.volume").settings.sounds.volume == 1


async def test_the_view_ends_with_the_settings_as_they_are():
    app, ended, applied = SettingsApp(), [], []
    async with app.run_test(size=SMALL) as pilot:
        await app.push_screen(SettingsView(Settings(), applied.append), ended.append)
        await choose(pilot, "chart.index_scale")
        await pilot.press("enter", "escape")
        await pilot.pause()
    assert [each.chart.index_scale for each in ended] == [3]
    assert applied == ended


def charting(listening=None, answers=None, running=None, settings=None, phrases=()):
    session = session_of(phrases=phrases)
    return ChartingApp(session, listening, lambda: OPENED, answers, settings, running)


async def test_over_the_chart_what_is_said_is_charted_and_the_line_on_top_stays(size):
    listening = Listening()
    app = charting(listening)
    async with app.run_test(size=size) as pilot:
        listening.says(Level(-30.0, False))
        await see(pilot, "● LISTENING")
        await app.run_action("show_settings")
        await see(pilot, "SETTINGS")
        assert "● LISTENING" in screen_of(app).splitlines()[0]
        listening.says(Level(-30.0, False), understood("two oh eight calculus two"))
        await pilot.pause(0.2)
        await pilot.press("escape")
        await see(pilot, "calculus 2")
        assert app.query_one(LevelBar).is_attached


async def test_keys_of_the_chart_do_nothing_while_settings_cover_it_but_f5():
    listening = Listening()
    app = charting(listening, phrases=["two oh eight calculus two"])
    session = app._session
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False), understood("two oh nine calculus three", "doubtful"))
        await see(pilot, "● LISTENING")
        await app.run_action("show_settings")
        await see(pilot, "A QUESTION WAITS: Esc goes back to answer")
        before = len(session.events)
        for key in ("f2", "f3", "f4", "pagedown", "ctrl+z", "f7", "f9"):
            await pilot.press(key)
        assert len(session.events) == before
        assert session.doubts
        await pilot.press("f5")
        await see(pilot, "■ NOT LISTENING")
        await pilot.press("escape", "f2")
        await pilot.pause()
        assert not session.doubts


async def test_theme_and_sounds_of_the_chart_change_at_once():
    answers = Answers(SoundSettings(), Turns(0.0), FakeOutput())
    app = charting(answers=answers)
    async with app.run_test(size=SMALL) as pilot:
        await app.run_action("show_settings")
        await choose(pilot, "sounds.tones")
        await pilot.press("enter")
        await choose(pilot, "screen.theme")
        await pilot.press("enter")
        await see(pilot, "Theme: light.")
        assert (app.theme, answers.are_on) == (LIGHT.name, False)


async def test_the_chart_begins_in_the_theme_of_the_settings():
    app = charting(settings=Settings(screen=ScreenSettings(theme="light")))
    async with app.run_test(size=SMALL):
        assert app.theme == LIGHT.name


async def test_the_test_of_a_microphone_is_told_what_the_case_hears_and_when_it_stops():
    listening, running = Listening(), RunningMicrophone("Headset")
    app = charting(listening, running=running)
    heard = []
    running.watch(heard.append)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False))
        await asyncio.sleep(0.1)
        await pilot.pause()
        assert heard == [Level(-30.0, False)]
        assert running.name == "Headset"
        listening.says(Stopped("It was unplugged."))
        await see(pilot, "It was unplugged.")
        assert running.name is None
