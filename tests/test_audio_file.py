from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile, to_samples
from dictate.speech.level import level_dbfs


def tone(rate: int, seconds: float = 2.0, channels: int = 1, peak: float = 0.5) -> np.ndarray:
    mono = peak * np.sin(2 * np.pi * 440 * np.arange(round(rate * seconds)) / rate)
    return np.tile(mono[:, np.newaxis], (1, channels))


def whole(file: AudioFile) -> Samples:
    return np.concatenate(list(file.blocks()))


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    path = tmp_path / "exam.wav"
    soundfile.write(path, tone(SAMPLE_RATE), SAMPLE_RATE)
    return path


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg"])
@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_any_format_becomes_16_khz_mono(
    tmp_path: Path, ending: str, rate: int, channels: int
) -> None:
    path = tmp_path / f"tone.{ending}"
    soundfile.write(path, tone(rate, channels=channels), rate)
    samples = whole(AudioFile(path))
    assert samples.dtype == np.int16
    assert samples.ndim == 1
    assert abs(len(samples) / SAMPLE_RATE - 2.0) < 0.01
    assert level_dbfs(samples) == pytest.approx(-9.03, abs=0.3)
    loudest_hz = np.argmax(np.abs(np.fft.rfft(samples[:SAMPLE_RATE])))
    assert abs(loudest_hz - 440) <= 1


def test_a_file_already_in_shape_is_unchanged(tmp_path: Path) -> None:
    path = tmp_path / "exact.wav"
    original = np.random.default_rng(1).integers(-32768, 32768, 50_001).astype(np.int16)
    soundfile.write(path, original, SAMPLE_RATE, subtype="PCM_16")
    np.testing.assert_array_equal(whole(AudioFile(path)), original)


def test_resampling_block_by_block_leaves_no_seams(tmp_path: Path) -> None:
    path = tmp_path / "tone.flac"
    soundfile.write(path, tone(44_100), 44_100, subtype="PCM_24")
    expected = 0.5 * 32768 * np.sin(2 * np.pi * 440 * np.arange(2 * SAMPLE_RATE) / SAMPLE_RATE)
    middle = slice(1000, -1000)
    np.testing.assert_allclose(whole(AudioFile(path))[middle], expected[middle], atol=2)


def test_channels_are_averaged(tmp_path: Path) -> None:
    path = tmp_path / "stereo.wav"
    left = tone(SAMPLE_RATE)[:, 0]
    soundfile.write(path, np.stack([left, -left], axis=1), SAMPLE_RATE)
    assert np.max(np.abs(whole(AudioFile(path)))) <= 1


def test_it_is_read_block_by_block(recording: Path) -> None:
    sizes = [len(block) for block in AudioFile(recording).blocks()]
    assert len(sizes) == 20
    assert max(sizes) <= SAMPLE_RATE * 0.1


def test_a_file_can_be_read_twice(recording: Path) -> None:
    file = AudioFile(recording)
    np.testing.assert_array_equal(whole(file), whole(file))


def test_it_knows_its_name_and_length(recording: Path) -> None:
    file = AudioFile(str(recording))
    assert file.name == "exam.wav"
    assert file.duration_s == pytest.approx(2.0)


def test_sound_beyond_full_scale_is_clipped_and_not_wrapped() -> None:
    sound = np.array([1.5, 1.0, -1.0, -7.0, np.nan, np.inf], np.float32)
    assert to_samples(sound).tolist() == [32767, 32767, -32768, -32768, 0, 32767]


def test_a_missing_file_is_named() -> None:
    with pytest.raises(DictateError, match=r"no file nowhere\.wav; check"):
        AudioFile("nowhere.wav")


def test_a_folder_is_no_recording(tmp_path: Path) -> None:
    with pytest.raises(DictateError, match="cannot be opened"):
        AudioFile(tmp_path)


@pytest.mark.parametrize("content", [b"R", b"Dear owner, your cat is well.\n" * 500])
def test_what_is_not_audio_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "letter.wav"
    path.write_bytes(content)
    with pytest.raises(DictateError, match=r"letter\.wav is not a recording.*save it as"):
        AudioFile(path)


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    path.write_bytes(b"")
    with pytest.raises(DictateError, match=r"empty\.wav holds no sound"):
        AudioFile(path)


def test_a_recording_of_no_length_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "short.wav"
    soundfile.write(path, np.zeros(0), SAMPLE_RATE)
    with pytest.raises(DictateError, match=r"short\.wav holds no sound"):
        AudioFile(path)


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg"])
def test_a_truncated_file_is_refused(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"cut.{ending}"
    noise = np.random.default_rng(2).standard_normal(3 * SAMPLE_RATE) * 0.1
    soundfile.write(path, noise, SAMPLE_RATE)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) * 2 // 3])
    with pytest.raises(DictateError, match=rf"cut\.{ending} is damaged.*copy it again"):
        whole(AudioFile(path))


def test_a_wav_written_to_a_pipe_has_a_placeholder_for_its_length(recording: Path) -> None:
    content = bytearray(recording.read_bytes())
    content[4:8] = content[40:44] = (0x7FFFF000).to_bytes(4, "little")
    recording.write_bytes(content)
    assert len(whole(AudioFile(recording))) == 2 * SAMPLE_RATE


class FakeTime:
    def __init__(self) -> None:
        self.now_s = 100.0
        self.slept: list[float] = []

    def clock(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now_s += seconds


def test_in_real_time_each_block_comes_when_it_would_have_been_recorded(recording: Path) -> None:
    time = FakeTime()
    file = AudioFile(recording, real_time=True, sleep=time.sleep, clock=time.clock)
    came_s = [time.now_s - 100.0 for _ in file.blocks()]
    assert came_s == pytest.approx([0.1 * i for i in range(1, 21)])


def test_a_slow_listener_is_not_made_slower_by_real_time(recording: Path) -> None:
    time = FakeTime()
    file = AudioFile(recording, real_time=True, sleep=time.sleep, clock=time.clock)
    for count, _ in enumerate(file.blocks()):
        if count == 4:
            time.now_s += 0.5
    assert time.now_s - 100.0 == pytest.approx(2.0)
    assert len(time.slept) == 15
