from __future__ import annotations

import shutil
import subprocess
import tracemalloc
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.speech.audio import SAMPLE_RATE, Samples, UtteranceAudio
from dictate.speech.audio_file import AudioFile
from dictate.speech.level import (
    SILENCE_DBFS,
    BandMeter,
    NoiseFloor,
    clipped_share,
    excess_db,
    is_clipping,
    level_dbfs,
)
from dictate.speech.segmentation import (
    Segmenter,
    SegmenterSettings,
    SegmentEvent,
    SpeechAudio,
    SpeechBegan,
    SpeechDropped,
    SpeechEnded,
    SpeechPaused,
    utterances,
    whole_file,
)

DIGITS = Path(__file__).parents[1] / ".." / "shared" / "human_digits"
Sound: TypeAlias = npt.NDArray[np.float64]
"""Float sound of full scale 1 at 16 kHz, shape (n,)."""

Noise: TypeAlias = Callable[[float, float], Sound]
"""Takes a length in s and a level in dBFS."""


def samples(sound: Sound) -> Samples:
    clipped: Samples = np.clip(np.rint(sound * 32768), -32768, 32767).astype(np.int16)
    return clipped


def silence(seconds: float) -> Sound:
    return np.zeros(round(seconds * SAMPLE_RATE))


def at_level(sound: Sound, dbfs: float) -> Sound:
    return sound * float(10 ** (dbfs / 20) / np.sqrt(np.mean(sound**2)))


def white(seconds: float, dbfs: float, seed: int = 0) -> Sound:
    rng = np.random.default_rng(seed)
    return at_level(rng.standard_normal(round(seconds * SAMPLE_RATE)), dbfs)


def pink(seconds: float, dbfs: float, seed: int = 0) -> Sound:
    spectrum = np.fft.rfft(white(seconds, 0.0, seed))
    hz = np.fft.rfftfreq(round(seconds * SAMPLE_RATE), 1 / SAMPLE_RATE)
    return at_level(np.fft.irfft(spectrum / np.sqrt(np.maximum(hz, 20.0))), dbfs)


def in_noise(sound: Sound, noise: Noise, dbfs: float) -> Sound:
    return sound + noise((len(sound) + 1) / SAMPLE_RATE, dbfs)[: len(sound)]


def speech_like(seconds: float, dbfs: float = -24.0, seed: int = 0) -> Sound:
    """Return pulses at a voice's pitch through formants that change with each syllable."""
    rng = np.random.default_rng(seed)
    moment = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    syllable = (moment * 5.0).astype(int)
    formants = rng.uniform([300, 900, 2200], [800, 2000, 3200], (syllable[-1] + 1, 3))[syllable]
    sound = np.zeros_like(moment)
    pitch_hz = 120.0 + 10.0 * np.sin(2 * np.pi * 0.7 * moment)
    phase = 2 * np.pi * np.cumsum(pitch_hz) / SAMPLE_RATE
    for harmonic in range(2, 32):
        distance = np.abs(formants - harmonic * 120.0).min(axis=1)
        sound += np.exp(-distance / 120.0) * np.sin(harmonic * phase)
    swell = 0.1 + 0.9 * np.sin(np.pi * ((moment * 5.0) % 1.0)) ** 2
    return at_level(sound * swell, dbfs)


def burst(seconds: float, dbfs: float = -12.0, seed: int = 0) -> Sound:
    """Return noise that swells and falls five times a second, as syllables do."""
    moment = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    swell = 0.05 + 0.95 * np.sin(np.pi * ((moment * 5.0) % 1.0)) ** 2
    return at_level(white(seconds, 0.0, seed) * swell, dbfs)


def events_of(sound: Sound, block: int = 480) -> list[SegmentEvent]:
    segmenter = Segmenter()
    pushed = samples(sound)
    events: list[SegmentEvent] = []
    for start in range(0, len(pushed), block):
        events += segmenter.push(pushed[start : start + block])
    return events + segmenter.flush()


def cut(sound: Sound, block: int = 480) -> list[UtteranceAudio]:
    return [e.utterance for e in events_of(sound, block) if isinstance(e, SpeechEnded)]


def places(found: list[UtteranceAudio]) -> list[tuple[float, float]]:
    return [(u.start_s, u.end_s) for u in found]


def holds(utterance: UtteranceAudio, start_s: float, end_s: float) -> bool:
    return utterance.start_s <= start_s and utterance.end_s >= end_s


# --- level ---------------------------------------------------------------------------------


def test_levels_are_in_dbfs() -> None:
    assert level_dbfs(samples(white(1.0, -30.0))) == pytest.approx(-30.0, abs=0.1)
    assert level_dbfs(np.full(100, -32768, np.int16)) == pytest.approx(0.0)


@pytest.mark.parametrize("count", [0, 100])
def test_digital_silence_has_the_lowest_level(count: int) -> None:
    assert level_dbfs(np.zeros(count, np.int16)) == SILENCE_DBFS == -96.0


def test_clipping_is_two_samples_at_the_end_of_the_scale() -> None:
    assert is_clipping(np.array([0, 32767, 32767, 0], np.int16))
    assert is_clipping(np.array([0, -32768, -32768, 0], np.int16))
    assert not is_clipping(np.array([0, 32767, 0, 32767], np.int16))
    assert not is_clipping(np.zeros(0, np.int16))


def test_the_share_that_is_clipped_counts_neighbours_at_the_end_of_the_scale():
    assert clipped_share(np.array([0, 32767, 32767, 32767, 0], np.int16)) == 0.5
    assert clipped_share(np.array([32767], np.int16)) == 0.0


def test_the_bands_together_hold_the_power_of_the_noise_in_them() -> None:
    frames = samples(white(3.0, -20.0)).reshape(-1, 480)
    power = np.mean(10 ** (BandMeter(480).levels(frames) / 10), axis=0).sum()
    share_of_spectrum = 3800 / 8000
    assert 10 * np.log10(power / share_of_spectrum) == pytest.approx(-20.0, abs=0.5)


def test_a_tone_however_loud_hardly_stands_out() -> None:
    tone = 0.9 * np.sin(2 * np.pi * 950 * np.arange(4800) / SAMPLE_RATE)
    levels = BandMeter(480).levels(samples(tone).reshape(-1, 480))
    voice = BandMeter(480).levels(samples(speech_like(0.3)).reshape(-1, 480))
    quiet = np.full(8, -80.0)
    assert excess_db(levels, quiet).max() < 2.5
    assert excess_db(voice, quiet).max() > 9.0


def test_the_noise_floor_follows_steady_noise_within_its_window() -> None:
    noise = BandMeter(480).levels(samples(white(3.0, -30.0)).reshape(-1, 480))
    floor = NoiseFloor(60, 20.0, -90.0).follow(noise)
    assert np.all(floor[0] == -90.0)
    assert np.all(np.abs(floor[70:] - noise.mean(axis=0)) < 6.0)


# --- where utterances begin and end --------------------------------------------------------


def test_silence_holds_no_utterance() -> None:
    assert events_of(silence(20.0)) == []


def test_an_empty_stream_holds_no_utterance() -> None:
    segmenter = Segmenter()
    assert segmenter.push(np.zeros(0, np.int16)) == []
    assert segmenter.flush() == []


def test_speech_between_silences_is_one_utterance() -> None:
    (found,) = cut(np.concatenate([silence(2.0), speech_like(1.5), silence(2.0)]))
    assert 1.65 <= found.start_s <= 2.0
    assert 3.5 <= found.end_s <= 3.85


def test_an_utterance_is_the_very_samples_of_its_place() -> None:
    sound = np.concatenate([silence(2.0), speech_like(1.5), silence(2.0)])
    (found,) = cut(sound)
    start, end = round(found.start_s * SAMPLE_RATE), round(found.end_s * SAMPLE_RATE)
    np.testing.assert_array_equal(found.samples, samples(sound)[start:end])


def test_speech_in_the_first_moment_is_not_lost() -> None:
    (found,) = cut(np.concatenate([speech_like(0.6), silence(1.0)]))
    assert found.start_s == 0.0


def test_speech_up_to_the_last_sample_is_not_lost() -> None:
    sound = np.concatenate([silence(1.0), speech_like(0.6), np.full(77, 0.1)])
    (found,) = cut(sound)
    assert found.end_s == pytest.approx(len(sound) / SAMPLE_RATE)


@pytest.mark.parametrize("noise_dbfs", [-75.0, -44.0, -39.0])
def test_a_pause_as_at_a_comma_does_not_split(noise_dbfs: float) -> None:
    sound = np.concatenate([silence(3.0), speech_like(0.8), silence(0.4), speech_like(0.9)])
    sound = np.concatenate([sound, silence(1.2)])
    (found,) = cut(in_noise(sound, white, noise_dbfs))
    assert holds(found, 3.0, 5.1)


@pytest.mark.parametrize("noise_dbfs", [-75.0, -44.0, -39.0])
def test_a_pause_as_between_sentences_splits(noise_dbfs: float) -> None:
    sound = np.concatenate([silence(3.0), speech_like(0.8), silence(1.0), speech_like(0.9, seed=2)])
    sound = np.concatenate([sound, silence(1.2)])
    first, second = cut(in_noise(sound, pink, noise_dbfs))
    assert holds(first, 3.0, 3.8)
    assert holds(second, 4.8, 5.7)
    assert first.end_s <= second.start_s


@pytest.mark.parametrize("gain_db", [-24.0, -12.0, 0.0, 12.0])
def test_the_gain_of_the_microphone_does_not_matter(gain_db: float) -> None:
    sound = np.concatenate([silence(3.0), speech_like(1.0), silence(1.5)])
    loud = in_noise(sound, white, -50.0) * 10 ** (gain_db / 20)
    assert any(holds(found, 3.0, 4.0) for found in cut(loud))
    assert len(cut(loud)) == 1


def test_a_click_is_dropped() -> None:
    click = white(0.04, -15.0)
    events = events_of(np.concatenate([silence(1.0), click, silence(1.0)]))
    assert not any(isinstance(event, SpeechEnded) for event in events)


def test_a_monitor_that_beeps_neither_begins_nor_prolongs_an_utterance() -> None:
    length = 12 * SAMPLE_RATE
    moment = np.arange(length) / SAMPLE_RATE
    ramp = np.clip(np.minimum(moment % 0.45, 0.08 - moment % 0.45) / 0.005, 0.0, 1.0)
    beeps = 0.05 * ramp * np.sin(2 * np.pi * 950 * moment)
    voice = np.concatenate([silence(5.0), speech_like(1.0), silence(6.0)])
    found = cut(beeps + voice + white(12.0, -70.0))
    (spoken,) = [u for u in found if u.end_s > 4.0]
    assert holds(spoken, 5.0, 6.0)
    assert spoken.end_s < 7.0


# --- noise ---------------------------------------------------------------------------------


@pytest.mark.parametrize("noise", [white, pink])
@pytest.mark.parametrize("dbfs", [-60.0, -45.0, -30.0, -20.0])
def test_steady_noise_is_no_utterance(noise: Noise, dbfs: float) -> None:
    sound = np.concatenate([white(3.0, -75.0), noise(20.0, dbfs), white(3.0, -75.0)])
    events = events_of(sound)
    assert not any(isinstance(event, SpeechEnded) for event in events)


@pytest.mark.parametrize("noise", [white, pink])
def test_noise_that_sets_in_is_dropped_within_three_seconds(
    noise: Noise,
) -> None:
    segmenter = Segmenter()
    segmenter.push(samples(white(3.0, -75.0)))
    events = segmenter.push(samples(noise(3.0, -30.0)))
    began = sum(isinstance(event, SpeechBegan) for event in events)
    dropped = sum(isinstance(event, SpeechDropped) for event in events)
    assert began == dropped


@pytest.mark.parametrize("noise", [white, pink])
def test_a_scaler_or_suction_used_for_a_moment_is_no_utterance(noise: Noise) -> None:
    bursts = [np.append(noise(length_s, -25.0), silence(1.0)) for length_s in (0.9, 1.3, 2.5)]
    events = events_of(in_noise(np.concatenate([silence(2.0), *bursts]), white, -70.0))
    assert not any(isinstance(event, SpeechEnded) for event in events)


@pytest.mark.parametrize("noise", [white, pink])
@pytest.mark.parametrize("snr_db", [10.0, 15.0, 20.0])
def test_speech_stands_out_of_noise(noise: Noise, snr_db: float) -> None:
    voice = np.concatenate([silence(4.0), speech_like(1.2), silence(2.0), speech_like(0.8, seed=3)])
    voice = np.concatenate([voice, silence(2.0)])
    first, second = cut(voice + noise(10.0, -24.0 - snr_db))
    assert holds(first, 4.0, 5.2)
    assert holds(second, 7.2, 8.0)


def test_speech_is_found_through_a_whistle_louder_than_it() -> None:
    moment = np.arange(10 * SAMPLE_RATE) / SAMPLE_RATE
    whistle = 0.15 * np.sin(2 * np.pi * 5800 * moment) + 0.1 * np.sin(2 * np.pi * 2900 * moment)
    voice = np.concatenate([silence(5.0), speech_like(1.5), silence(3.5)])
    (found,) = [u for u in cut(whistle + voice) if u.end_s > 4.0]
    assert holds(found, 5.0, 6.5)


# --- long streams --------------------------------------------------------------------------


def test_a_long_utterance_is_cut_at_its_quietest_place_and_goes_on() -> None:
    dip_s = 13.5
    voice = speech_like(20.0)
    moment = np.arange(len(voice)) / SAMPLE_RATE
    voice[np.abs(moment - dip_s) < 0.1] *= 0.001
    first, second = cut(np.concatenate([voice, silence(1.0)]))
    assert first.end_s == pytest.approx(dip_s, abs=0.1)
    assert first.end_s == pytest.approx(second.start_s)
    assert second.end_s >= 20.0


def test_no_utterance_is_longer_than_the_longest() -> None:
    found = cut(np.concatenate([speech_like(50.0), silence(1.0)]))
    assert max(u.end_s - u.start_s for u in found) <= SegmenterSettings().maximum_s
    assert found[0].start_s == 0.0
    for earlier, later in pairwise(found):
        assert earlier.end_s == pytest.approx(later.start_s)


def test_memory_stays_flat() -> None:
    minute = samples(
        np.concatenate(
            [np.concatenate([speech_like(2.0, seed=i), silence(1.0)]) for i in range(20)]
        )
        + pink(60.0, -45.0)
    )
    segmenter = Segmenter()

    def listen() -> int:
        for start in range(0, len(minute), 1600):
            segmenter.push(minute[start : start + 1600])
        return tracemalloc.get_traced_memory()[0]

    tracemalloc.start()
    try:
        after_one = listen()
        after_five = [listen() for _ in range(4)][-1]
    finally:
        tracemalloc.stop()
    assert after_five < after_one + 200_000


# --- events --------------------------------------------------------------------------------


def conversation() -> Sound:
    parts = [silence(0.7), speech_like(0.9), silence(1.1), burst(0.8), silence(0.35), burst(0.6)]
    parts += [silence(2.0), white(0.04, -10.0), silence(1.0), speech_like(17.0), silence(0.9)]
    sound = np.concatenate([*parts, speech_like(0.5)])
    return in_noise(sound, white, -60.0)


CONVERSATION = conversation()


def test_what_is_handed_on_while_spoken_is_the_utterance() -> None:
    heard: list[Samples] = []
    ended = 0
    for event in events_of(CONVERSATION):
        if isinstance(event, SpeechBegan):
            heard = []
        elif isinstance(event, SpeechAudio):
            heard.append(event.samples)
        elif isinstance(event, SpeechEnded):
            ended += 1
            np.testing.assert_array_equal(np.concatenate(heard), event.utterance.samples)
    assert ended >= 4


def test_each_beginning_has_one_end() -> None:
    within = SpeechAudio | SpeechPaused
    kinds = [type(event) for event in events_of(CONVERSATION) if not isinstance(event, within)]
    assert all(kind is SpeechBegan for kind in kinds[::2])
    assert all(kind is not SpeechBegan for kind in kinds[1::2])
    assert len(kinds) % 2 == 0


def test_a_beginning_tells_where_its_utterance_starts() -> None:
    events = [e for e in events_of(CONVERSATION) if isinstance(e, SpeechBegan | SpeechEnded)]
    for began, ended in pairwise(events):
        if isinstance(began, SpeechBegan) and isinstance(ended, SpeechEnded):
            assert began.start_s == ended.utterance.start_s


def test_audio_is_handed_on_while_the_person_speaks() -> None:
    segmenter = Segmenter()
    segmenter.push(samples(silence(1.0)))
    events = segmenter.push(samples(speech_like(1.0)))
    handed_on = sum(len(e.samples) for e in events if isinstance(e, SpeechAudio))
    assert handed_on > 0.9 * SAMPLE_RATE


def pauses_in(sound: Sound) -> list[UtteranceAudio]:
    return [e.utterance for e in events_of(sound) if isinstance(e, SpeechPaused)]


def test_a_pause_tells_the_utterance_that_ends_there() -> None:
    sound = np.concatenate([silence(1.0), speech_like(0.8), silence(1.0), speech_like(0.9)])
    for paused, ended in zip(pauses_in(sound), cut(sound), strict=False):
        np.testing.assert_array_equal(paused.samples, ended.samples)
        assert (paused.start_s, paused.end_s) == (ended.start_s, ended.end_s)
    assert len(pauses_in(sound)) == 1
    assert len(cut(sound)) == 2


def test_a_pause_is_told_well_before_the_end() -> None:
    sound = samples(np.concatenate([silence(1.0), speech_like(0.8), silence(1.0)]))
    segmenter, came_s = Segmenter(), {}
    for start in range(0, len(sound), 480):
        for event in segmenter.push(sound[start : start + 480]):
            came_s[type(event)] = start / SAMPLE_RATE
    waited_s = came_s[SpeechEnded] - came_s[SpeechPaused]
    chosen = SegmenterSettings()
    assert waited_s == pytest.approx(chosen.end_silence_s - chosen.pause_s, abs=0.001)


def test_all_that_a_pause_tells_was_handed_on_before() -> None:
    heard: list[Samples] = []
    pauses = 0
    for event in events_of(CONVERSATION):
        if isinstance(event, SpeechBegan):
            heard = []
        elif isinstance(event, SpeechAudio):
            heard.append(event.samples)
        elif isinstance(event, SpeechPaused):
            pauses += 1
            np.testing.assert_array_equal(np.concatenate(heard), event.utterance.samples)
    assert pauses >= 3


def test_each_pause_is_told_once() -> None:
    said = [speech_like(0.8), silence(0.45), speech_like(0.6, seed=2), silence(0.45)]
    sound = np.concatenate([silence(1.0), *said, speech_like(0.7, seed=3), silence(1.0)])
    found = pauses_in(in_noise(sound, white, -75.0))
    (utterance,) = cut(in_noise(sound, white, -75.0))
    assert len(found) == 3
    assert {paused.start_s for paused in found} == {utterance.start_s}
    assert found[-1].end_s == utterance.end_s


def test_a_short_pause_is_not_told() -> None:
    said = [speech_like(0.8), silence(0.2), speech_like(0.6, seed=2), silence(1.0)]
    assert len(pauses_in(np.concatenate([silence(1.0), *said]))) == 1


def test_no_pause_is_told_after_a_click() -> None:
    click = white(0.04, -15.0)
    assert pauses_in(np.concatenate([silence(1.0), click, silence(1.0)])) == []


def test_no_pause_is_told_where_the_utterance_may_still_be_cut() -> None:
    sound = np.concatenate([silence(0.5), speech_like(13.0), silence(1.0)])
    assert pauses_in(sound) == []
    assert len(cut(sound)) == 1


def test_a_flushed_segmenter_begins_afresh() -> None:
    segmenter = Segmenter()
    sound = samples(np.concatenate([silence(0.5), speech_like(1.0), pink(4.0, -30.0)]))
    runs = []
    for _ in range(2):
        events = segmenter.push(sound) + segmenter.flush()
        runs.append(places([e.utterance for e in events if isinstance(e, SpeechEnded)]))
    assert runs[0] == runs[1] != []


REFERENCE = places(cut(CONVERSATION, block=480))


@settings(max_examples=15, deadline=None)
@given(sizes=st.lists(st.integers(1, 40_000), min_size=1, max_size=8))
def test_the_cuts_do_not_depend_on_the_blocks(sizes: list[int]) -> None:
    pushed = samples(CONVERSATION)
    segmenter = Segmenter()
    events: list[SegmentEvent] = []
    start = turn = 0
    while start < len(pushed):
        size = max(sizes[turn % len(sizes)], 100)
        events += segmenter.push(pushed[start : start + size])
        start, turn = start + size, turn + 1
    events += segmenter.flush()
    assert places([e.utterance for e in events if isinstance(e, SpeechEnded)]) == REFERENCE


@settings(max_examples=25, deadline=None)
@given(
    lengths_s=st.lists(st.floats(0.2, 3.0), min_size=1, max_size=5),
    gaps_s=st.lists(st.floats(0.0, 2.0), min_size=5, max_size=5),
    seed=st.integers(0, 1000),
)
def test_every_sample_of_a_loud_burst_is_in_some_utterance(
    lengths_s: list[float], gaps_s: list[float], seed: int
) -> None:
    parts, loud = [], []
    for index, (length_s, gap_s) in enumerate(zip(lengths_s, gaps_s, strict=False)):
        parts += [silence(gap_s), burst(length_s, seed=seed + index)]
        loud += [np.zeros(len(parts[-2]), bool), np.ones(len(parts[-1]), bool)]
    sound = np.concatenate(parts)
    inside = np.zeros(len(sound), bool)
    for found in cut(in_noise(sound, white, -70.0)):
        inside[round(found.start_s * SAMPLE_RATE) : round(found.end_s * SAMPLE_RATE)] = True
    assert np.all(inside[np.concatenate(loud)])


# --- whole sources -------------------------------------------------------------------------


class Recording:
    name = "exam.wav"

    def __init__(self, sound: Sound) -> None:
        self.sound = samples(sound)

    def blocks(self) -> Iterator[Samples]:
        for start in range(0, len(self.sound), 1600):
            yield self.sound[start : start + 1600]


def test_the_utterances_of_a_recording_carry_its_name() -> None:
    found = list(utterances(Recording(CONVERSATION)))
    assert places(found) == REFERENCE
    assert {utterance.file for utterance in found} == {"exam.wav"}


def test_a_recording_without_speech_is_still_one_utterance() -> None:
    source = Recording(silence(2.5))
    assert list(utterances(source)) == []
    found = whole_file(source)
    assert (found.start_s, found.end_s, found.file) == (0.0, 2.5, "exam.wav")
    assert len(found.samples) == 40_000


# --- real voices ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def digit_clips() -> list[Path]:
    clips = sorted(DIGITS.glob("*.wav"))
    if not clips:
        pytest.skip("no recordings of human digits at ../shared/human_digits")
    return clips


def test_each_tightly_trimmed_human_digit_is_an_utterance(digit_clips: list[Path]) -> None:
    counts = [len(list(utterances(AudioFile(clip)))) for clip in digit_clips]
    assert min(counts) == 1
    assert counts.count(1) >= 0.99 * len(digit_clips)


@pytest.mark.parametrize("speaker", ["a", "b", "c"])
@pytest.mark.parametrize(("snr_db", "enough"), [(10.0, 8), (20.0, 9)])
def test_human_digits_in_noise_are_found(
    digit_clips: list[Path], speaker: str, snr_db: float, enough: int
) -> None:
    parts, spoken = [pink(3.0, -80.0)], []
    for digit in range(10):
        clip = DIGITS / f"{digit}_{speaker}_5.wav"
        sound = at_level(np.concatenate(list(AudioFile(clip).blocks())).astype(float), -24.0)
        start_s = sum(map(len, parts)) / SAMPLE_RATE
        spoken.append((start_s + 0.05, start_s + len(sound) / SAMPLE_RATE - 0.05))
        parts += [sound, silence(1.1)]
    stream = np.concatenate(parts)
    found = cut(in_noise(stream, pink, -24.0 - snr_db))
    right = [sum(holds(u, *place) for u in found) == 1 for place in spoken]
    assert sum(right) >= enough
    assert len(found) <= 11


SENTENCES = (
    ("two oh four", "mobility two"),
    ("tooth one oh eight", "missing"),
    ("three oh one", "six"),
)


def spoken_by_flite(voice: str, text: str, path: Path) -> Sound:
    """Return the speech without the silence around it."""
    subprocess.run(["flite", "-voice", voice, "-t", text, "-o", path], check=True)
    sound = np.concatenate(list(AudioFile(path).blocks())) / 32768
    heard = np.flatnonzero(np.abs(sound) > 0.02 * np.abs(sound).max())
    return sound[heard[0] : heard[-1]]


@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
@pytest.mark.parametrize("voice", ["slt", "rms", "awb", "kal16"])
@pytest.mark.parametrize("snr_db", [15.0, 60.0])
def test_spoken_sentences_are_cut_between_and_not_within(
    tmp_path: Path, voice: str, snr_db: float
) -> None:
    parts, places_spoken = [silence(3.0)], []
    for tooth, finding in SENTENCES:
        start_s = sum(map(len, parts)) / SAMPLE_RATE
        for phrase in (tooth, finding):
            parts += [spoken_by_flite(voice, phrase, tmp_path / "phrase.wav"), silence(0.35)]
        places_spoken.append((start_s, sum(map(len, parts)) / SAMPLE_RATE - 0.35))
        parts += [silence(0.65)]
    voices = at_level(np.concatenate(parts), -27.0)
    found = cut(in_noise(voices, pink, -27.0 - snr_db))
    assert len(found) == len(SENTENCES)
    for utterance, (start_s, end_s) in zip(found, places_spoken, strict=True):
        assert holds(utterance, start_s, end_s - 0.05)
