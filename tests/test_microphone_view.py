"""The live test of a microphone: what comes in is shown and judged, and nothing is kept."""

import queue

import numpy as np
import pytest

from dictate.errors import DictateError
from dictate.listening.listener import Level
from dictate.listening.metering import RunningMicrophone
from dictate.screen.microphone_view import NO_DEVICE, MicrophoneView
from dictate.screen.settings_app import SettingsApp
from dictate.screen.settings_view import SettingsView
from dictate.settings import Settings, read_settings
from dictate.speech.level import SILENCE_DBFS
from dictate.speech.level_watch import LevelWatch
from tests.screen_pilot import LARGE, SMALL, screen_of, see
from tests.test_settings_view import choose

BLOCK = 480
ROOM, VOICE = 8, 4000


def noise(peak, blocks=20):
    made = np.random.default_rng(1).normal(0.0, peak, (blocks, BLOCK))
    return list(np.clip(made, -32768, 32767).astype(np.int16))


class FakeMicrophone:
    """A microphone that gives what a test puts into it."""

    def __init__(self, name):
        self.name = name
        self.waiting = queue.Queue()
        self.is_stopped = False

    def gives(self, blocks):
        for block in blocks:
            self.waiting.put(block)

    def stop(self):
        self.is_stopped = True
        self.waiting.put(None)

    def blocks(self):
        while not self.is_stopped and (block := self.waiting.get(timeout=10)) is not None:
            if isinstance(block, DictateError):
                raise block
            yield block


class FakeDevices:
    """Two microphones, the first of them the system's own choice; one more once looked for."""

    def __init__(self, names=("Headset, ALSA", "Table, ALSA")):
        self.all = list(names)
        self.looked = 0

    def names(self):
        return list(self.all)

    def name_of(self, choice):
        return (choice or self.all[0]).split(",")[0]

    def look_again(self):
        self.looked += 1
        self.all.append("Lapel, ALSA")


class Bench:
    """The settings alone, with fake microphones. `opened` are those that were opened."""

    def __init__(self, running=None, devices=None, settings=None):
        self.devices = devices or FakeDevices()
        self.opened = []
        self.running = running
        self.settings = settings or Settings()
        self.app = SettingsApp(self.view)

    def view(self, settings, apply, problem):
        return SettingsView(
            self.settings,
            apply,
            self.running,
            devices=self.devices,
            open_microphone=self.open,
        )

    def open(self, name):
        self.opened.append(FakeMicrophone(name))
        return self.opened[-1]


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    return tmp_path


@pytest.fixture(params=[SMALL, LARGE])
def size(request):
    return request.param


async def begin(pilot):
    await choose(pilot, "speech.microphone")
    await pilot.press("enter")
    await see(pilot, "MICROPHONE")
    await pilot.pause(0.1)


async def test_a_good_microphone_is_called_good(size):
    bench = Bench()
    async with bench.app.run_test(size=size) as pilot:
        await begin(pilot)
        await see(pilot, "the system's own choice")
        bench.opened[-1].gives(noise(ROOM, 60))
        await see(pilot, "Now speak as you do while charting.")
        await see(pilot, "room -73 dBFS")
        bench.opened[-1].gives(noise(VOICE, 40))
        await see(pilot, "GOOD: the voice is clear of the room.")
        await see(pilot, "voice -18 dBFS   55 dB above the room")
        assert "█" in screen_of(bench.app)


@pytest.mark.parametrize(
    "room, voice, verdict",
    [
        (0, 0, "Nothing comes from this microphone"),
        (400, 4000, "TOO MUCH NOISE"),
        (150, 4000, "USABLE"),
        (1, 80, "TOO SOFT"),
        (8, 60_000, "TOO LOUD"),
    ],
)
async def test_what_is_wrong_is_said_with_what_to_do(room, voice, verdict):
    bench = Bench()
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        bench.opened[-1].gives(noise(room, 60) + noise(voice, 40))
        if verdict == "TOO LOUD":
            await see(pilot, "CLIPPING")
        await see(pilot, verdict)
        assert verdict == "TOO LOUD" or "CLIPPING" not in screen_of(bench.app)


async def test_the_cursor_tests_another_one_and_lets_go_of_the_first():
    bench = Bench()
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        await pilot.press("down", "down")
        await pilot.pause(0.1)
        assert [each.name for each in bench.opened] == [None, "Headset, ALSA", "Table, ALSA"]
        assert [each.is_stopped for each in bench.opened] == [True, True, False]


async def test_enter_uses_the_microphone_and_keeps_it(size, data):
    bench = Bench()
    async with bench.app.run_test(size=size) as pilot:
        await begin(pilot)
        await pilot.press("down", "down", "enter")
        await see(pilot, "Microphone: Table, ALSA.")
        await see(pilot, "takes effect when dictate starts, or with F5 after a problem")
        assert read_settings(data).speech.microphone == "Table, ALSA"
        assert all(each.is_stopped for each in bench.opened)


async def test_a_click_uses_a_microphone(data):
    bench = Bench()
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        lines = screen_of(bench.app).splitlines()
        at = next(y for y, line in enumerate(lines) if "Headset, ALSA" in line)
        await pilot.click(offset=(6, at))
        await see(pilot, "Microphone: Headset, ALSA.")
        assert read_settings(data).speech.microphone == "Headset, ALSA"


async def test_esc_leaves_all_as_it_was_and_lets_go(data):
    bench = Bench()
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        await pilot.press("down", "escape")
        await see(pilot, "Microphone: the system's own.")
        assert all(each.is_stopped for each in bench.opened)
        assert list(data.iterdir()) == []


async def test_a_microphone_that_the_case_listens_with_is_not_opened_again():
    running = RunningMicrophone("Headset")
    bench = Bench(running)
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        await see(pilot, "This case listens with it: what you say is charted as ever.")
        assert bench.opened == []
        for level in [-70.0] * 60 + [-20.0] * 40:
            running.tell(Level(level, False))
        await see(pilot, "GOOD")
        await pilot.press("down", "down")
        await see(pilot, "A test. The case goes on listening with Headset.")
        assert [each.name for each in bench.opened] == ["Table, ALSA"]
        running.tell(Level(-1.0, True))
        await pilot.pause(0.4)
        assert "CLIPPING" not in screen_of(bench.app)


async def test_a_case_that_stops_listening_is_told():
    running = RunningMicrophone("Headset")
    bench = Bench(running)
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        running.name = None
        await see(pilot, "This case has stopped listening with it")


async def test_new_microphones_are_looked_for_where_nothing_else_uses_sound():
    bench = Bench()
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        await pilot.press("r")
        await see(pilot, "Lapel, ALSA")
        assert bench.opened[0].is_stopped
        assert not bench.opened[-1].is_stopped


async def test_with_a_case_open_its_sound_is_not_closed_to_look_for_new_ones():
    bench = Bench(RunningMicrophone())
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        await pilot.press("r")
        await see(pilot, "New microphones are found when dictate is started again")
        assert bench.devices.looked == 0


async def test_without_a_microphone_it_says_to_plug_one_in(size):
    bench = Bench(devices=FakeDevices(()))
    async with bench.app.run_test(size=size) as pilot:
        await begin(pilot)
        await see(pilot, NO_DEVICE)
        await pilot.press("enter")
        assert isinstance(bench.app.screen, MicrophoneView)
        await pilot.press("r")
        await see(pilot, "Lapel, ALSA")


async def test_a_device_that_cannot_be_opened_or_goes_silent_says_so():
    bench = Bench()
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        bench.opened[-1].waiting.put(DictateError("The microphone Headset has gone silent."))
        await see(pilot, "The microphone Headset has gone silent.")
        await pilot.press("down")
        await see(pilot, "Wait: the microphone is being opened.")


async def test_a_microphone_of_the_settings_that_is_not_there_stays_in_the_list():
    settings = Settings.model_validate({"speech": {"microphone": "Old one"}})
    bench = Bench(settings=settings)
    async with bench.app.run_test(size=SMALL) as pilot:
        await begin(pilot)
        await see(pilot, "● Old one   (not found by this name in full)")


def test_what_was_found_stays_once_the_speaker_is_silent():
    watch = LevelWatch()
    for level in [-70.0] * 60 + [-20.0] * 40:
        watch.take(level, False)
    good = watch.found()
    assert good.finding == "good"
    for _ in range(400):
        watch.take(-70.0, False)
    assert watch.found() == good


def test_digital_silence_is_not_a_quiet_room():
    watch = LevelWatch()
    for _ in range(40):
        watch.take(SILENCE_DBFS, False)
    assert watch.found().finding == "silent"
