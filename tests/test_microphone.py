from __future__ import annotations

import importlib.util
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from dictate.errors import DictateError
from dictate.speech import microphone
from dictate.speech.audio import SAMPLE_RATE
from dictate.speech.microphone import Microphone, device_name, input_devices, look_again

HEADSET = {"name": "Headset", "hostapi": 0, "max_input_channels": 1, "default_samplerate": 48_000.0}
MIXER = {"name": "Mixer", "hostapi": 0, "max_input_channels": 2, "default_samplerate": 44_100.0}
SPEAKER = {"name": "Speaker", "hostapi": 0, "max_input_channels": 0, "default_samplerate": 48_000.0}


class PortAudioError(Exception):
    pass


class FakeStream:
    """Plays `sound` (frames, channels) into the callback as soon as it starts."""

    def __init__(self, fake: FakeSoundDevice, **wanted: Any) -> None:
        self.fake = fake
        self.callback: Callable[..., None] = wanted["callback"]
        self.finished: Callable[[], None] = wanted["finished_callback"]
        self.blocksize: int = wanted["blocksize"]
        self.active = False
        fake.wanted.append(wanted)
        rate, channels = wanted["samplerate"], wanted["channels"]
        if rate not in fake.rates or channels not in fake.channels:
            raise PortAudioError("Invalid sample rate")

    def start(self) -> None:
        if self.fake.busy:
            raise PortAudioError("Device unavailable")
        self.active = True
        for start in range(0, len(self.fake.sound), self.blocksize):
            block = self.fake.sound[start : start + self.blocksize]
            status = SimpleNamespace(input_overflow=start in self.fake.overflows_at)
            self.callback(block, len(block), None, status)

    def unplug(self) -> None:
        self.active = False
        self.finished()

    def close(self) -> None:
        self.fake.closed += 1
        if self.active:
            self.active = False
            self.finished()


class FakeSoundDevice(ModuleType):
    PortAudioError = PortAudioError

    def __init__(self) -> None:
        super().__init__("sounddevice")
        self.devices = [SPEAKER, HEADSET]
        self.rates: set[float] = {16_000.0, 48_000.0}
        self.channels = {1}
        self.busy = False
        self.sound = np.zeros((0, 1), np.int16)
        self.overflows_at: set[int] = set()
        self.wanted: list[dict[str, Any]] = []
        self.streams: list[FakeStream] = []
        self.closed = 0

    def InputStream(self, **wanted: Any) -> FakeStream:  # noqa: N802
        stream = FakeStream(self, **wanted)
        self.streams.append(stream)
        return stream

    def query_hostapis(self) -> list[dict[str, str]]:
        return [{"name": "ALSA"}]

    def query_devices(self, device: Any = None, kind: str | None = None) -> Any:
        if kind is None:
            return self.devices
        inputs = [info for info in self.devices if info["max_input_channels"]]
        if device is None:
            if not inputs:
                raise PortAudioError("Error querying device -1")
            return inputs[0]
        matching = [info for info in inputs if str(device).lower() in str(info["name"]).lower()]
        if not matching:
            raise ValueError(f"No input device matching {device!r}")
        if len(matching) > 1:
            raise ValueError(f"Multiple input devices found for {device!r}")
        return matching[0]


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch) -> FakeSoundDevice:
    module = FakeSoundDevice()
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    return module


def record(source: Microphone, samples: int) -> np.ndarray:
    heard: list[np.ndarray] = []
    for block in source.blocks():
        heard.append(block)
        if sum(map(len, heard)) >= samples:
            source.stop()
    return np.concatenate(heard)


def test_sounddevice_is_imported_only_when_a_microphone_is_used() -> None:
    code = "import sys, dictate.speech.microphone; sys.exit('sounddevice' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_sound_arrives_in_order_and_unchanged(fake: FakeSoundDevice) -> None:
    fake.sound = np.arange(4800, dtype=np.int16)[:, np.newaxis]
    heard = record(Microphone(), 4800)
    np.testing.assert_array_equal(heard, fake.sound[:, 0])
    assert fake.wanted[0]["samplerate"] == SAMPLE_RATE
    assert fake.closed == 1


def test_blocks_are_copies_since_portaudio_reuses_its_buffer(fake: FakeSoundDevice) -> None:
    fake.sound = np.full((480, 1), 7, np.int16)
    source = Microphone()
    blocks = source.blocks()
    first = next(blocks)
    fake.sound[:] = 0
    assert first.tolist() == [7] * 480
    source.stop()
    assert list(blocks) == []


def test_a_device_that_refuses_16_khz_is_resampled(fake: FakeSoundDevice) -> None:
    fake.rates = {48_000.0}
    moment = np.arange(48_000) / 48_000
    fake.sound = np.round(8000 * np.sin(2 * np.pi * 440 * moment)).astype(np.int16)[:, np.newaxis]
    heard = record(Microphone(), 15_000)
    assert [wanted["samplerate"] for wanted in fake.wanted] == [16_000.0, 48_000.0]
    assert 15_000 <= len(heard) <= 16_000
    expected = 8000 * np.sin(2 * np.pi * 440 * np.arange(len(heard)) / SAMPLE_RATE)
    np.testing.assert_allclose(heard[1000:-1000], expected[1000:-1000], atol=3)


def test_a_device_that_refuses_mono_has_its_channels_averaged(fake: FakeSoundDevice) -> None:
    fake.devices = [MIXER]
    fake.rates, fake.channels = {44_100.0}, {2}
    fake.sound = np.tile(np.array([[1000, 3000]], np.int16), (44_100, 1))
    heard = record(Microphone(), 12_000)
    assert abs(float(np.median(heard)) - 2000) <= 1


def test_overflows_are_counted(fake: FakeSoundDevice) -> None:
    fake.sound = np.zeros((4800, 1), np.int16)
    fake.overflows_at = {480, 960}
    source = Microphone()
    record(source, 4800)
    assert source.overflows == 2


def test_sound_nobody_takes_is_lost_and_counted(
    fake: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(microphone, "_WAITING_BLOCKS", 5)
    fake.sound = np.zeros((4800, 1), np.int16)
    source = Microphone()
    record(source, 5 * 480)
    assert source.overflows == 5


def test_stop_from_another_thread_ends_the_blocks(fake: FakeSoundDevice) -> None:
    fake.sound = np.zeros((480, 1), np.int16)
    source = Microphone()
    heard = threading.Event()

    def listen() -> None:
        for _ in source.blocks():
            heard.set()

    listener = threading.Thread(target=listen)
    listener.start()
    assert heard.wait(timeout=2.0)
    source.stop()
    listener.join(timeout=2.0)
    assert not listener.is_alive()


def test_a_stopped_microphone_stays_stopped(fake: FakeSoundDevice) -> None:
    source = Microphone()
    source.stop()
    assert list(source.blocks()) == []
    assert fake.streams == []


def test_an_abandoned_microphone_is_closed(fake: FakeSoundDevice) -> None:
    fake.sound = np.zeros((480, 1), np.int16)
    blocks = Microphone().blocks()
    next(blocks)
    blocks.close()  # type: ignore[attr-defined]
    assert fake.closed == 1


def test_a_device_unplugged_while_recording_says_so(fake: FakeSoundDevice) -> None:
    fake.sound = np.zeros((480, 1), np.int16)
    blocks = Microphone().blocks()
    next(blocks)
    fake.streams[0].unplug()
    with pytest.raises(DictateError, match="Headset has gone silent; plug it in"):
        next(blocks)


def test_a_device_that_delivers_nothing_says_so(
    fake: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(microphone, "SILENT_AFTER_S", 0.01)
    with pytest.raises(DictateError, match="gone silent"):
        next(Microphone().blocks())


def test_a_device_in_use_says_so(fake: FakeSoundDevice) -> None:
    fake.busy = True
    with pytest.raises(DictateError, match=r"Headset cannot be opened.*close other programs"):
        next(Microphone().blocks())
    assert fake.closed == len(fake.streams)


def test_no_microphone_says_to_plug_one_in(fake: FakeSoundDevice) -> None:
    fake.devices = [SPEAKER]
    with pytest.raises(DictateError, match="plug one in"):
        Microphone()
    assert input_devices() == []


def test_a_wrong_name_lists_the_right_ones(fake: FakeSoundDevice) -> None:
    with pytest.raises(DictateError, match=r"no microphone 'Studio'.*Headset, ALSA"):
        Microphone("Studio")


def test_a_name_that_fits_two_devices_is_asked_for_in_full(fake: FakeSoundDevice) -> None:
    fake.devices = [HEADSET, {**HEADSET, "name": "Headset 2"}]
    with pytest.raises(DictateError, match="More than one microphone matches 'headset'"):
        Microphone("headset")


def test_the_devices_that_record_are_listed(fake: FakeSoundDevice) -> None:
    fake.devices = [SPEAKER, HEADSET, MIXER]
    assert input_devices() == ["Headset, ALSA", "Mixer, ALSA"]


def test_a_choice_has_the_devices_own_name(fake: FakeSoundDevice) -> None:
    assert device_name(None) == device_name("head") == "Headset"
    with pytest.raises(DictateError, match="no microphone 'Studio'"):
        device_name("Studio")


def test_looking_again_starts_portaudio_anew(
    fake: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    monkeypatch.setattr(fake, "_terminate", lambda: done.append("end"), raising=False)
    monkeypatch.setattr(fake, "_initialize", lambda: done.append("begin"), raising=False)
    look_again()
    assert done == ["end", "begin"]


def test_the_installed_sounddevice_has_what_looking_again_needs() -> None:
    source = importlib.util.find_spec("sounddevice")
    assert source is not None and source.origin is not None
    text = Path(source.origin).read_text(encoding="utf-8")
    assert "def _terminate(" in text and "def _initialize(" in text


def test_a_missing_portaudio_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str, *rest: Any) -> ModuleType:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return original(name, *rest)

    original = __import__
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr("builtins.__import__", missing)
    with pytest.raises(DictateError, match="PortAudio library is missing; install it"):
        Microphone()
    with pytest.raises(DictateError, match="PortAudio"):
        input_devices()
