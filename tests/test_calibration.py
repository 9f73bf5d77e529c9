import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from typer.testing import CliRunner

from audio_fixtures import noises
from dictate.cli import app
from dictate.commands.calibrate import PHRASE, lines_of, record
from dictate.errors import DictateError
from dictate.grammar.spoken import CHARTING, spoken_languages
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile, to_samples
from dictate.speech.calibration import (
    CLIPPED_SHARE,
    NARROW_DB,
    Calibration,
    calibrate,
    clipped_share,
    mains_hum,
)
from dictate.speech.level import FRAME_SAMPLES, BandMeter
from dictate.speech.recogniser import Hypothesis
from dictate.speech.sphinx import SphinxRecogniser

FIXTURES = Path(__file__).resolve().parent.parent / "audio_fixtures"
MANIFEST = json.loads((FIXTURES / "manifest.json").read_text(encoding="utf-8"))
ROWS = {voice: row for row in MANIFEST["sentences"] for voice in [row["voice"]]}
VOICES = sorted(ROWS)
NOISES = {"pink": noises.pink_noise, "scaler": noises.scaler, "white": noises.room_floor}
EVERY_VOICE = pytest.mark.parametrize("voice", VOICES)


def sound_of(voice: str) -> np.ndarray:
    """A sentence of a voice: full scale 1, 16 kHz, shape (n,)."""
    blocks = AudioFile(FIXTURES / ROWS[voice]["file"]).blocks()
    return np.concatenate(list(blocks)) / 32768.0


def samples(sound: np.ndarray) -> Samples:
    return to_samples(sound.astype(np.float32))


def quiet_room(seconds: float = 2.0) -> np.ndarray:
    return noises.room_floor(seconds, np.random.default_rng(1))


def calibrated(phrase: np.ndarray, room: np.ndarray | None = None) -> Calibration:
    return calibrate(samples(quiet_room() if room is None else room), samples(phrase))


def band_power(sound: np.ndarray) -> np.ndarray:
    whole = len(sound) - len(sound) % FRAME_SAMPLES
    frames = samples(sound)[:whole].reshape(-1, FRAME_SAMPLES)
    return np.sum(10 ** (BandMeter(FRAME_SAMPLES).levels(frames) / 10), axis=1)


def in_noise(voice: str, kind: str, snr_db: float) -> tuple[np.ndarray, np.ndarray]:
    """A room and a sentence in it. The clean frames within 20 dB of the loudest lie `snr_db`
    above the mean of the noise, both in the bands of speech."""
    clean = sound_of(voice)
    noise = NOISES[kind](2.0 + len(clean) / SAMPLE_RATE + 0.1, np.random.default_rng(2))
    power = band_power(clean)
    speech = power[power >= np.convolve(power, np.full(3, 1 / 3), mode="same").max() / 100].mean()
    noise *= np.sqrt(speech / band_power(noise).mean() / 10 ** (snr_db / 10))
    room = noise[: 2 * SAMPLE_RATE]
    return room, clean + noise[2 * SAMPLE_RATE :][: len(clean)]


class Hears:
    """A recogniser that hears the same whatever is said."""

    name = "ear"

    def __init__(self, text: str, trust: str = "sure") -> None:
        self._hypothesis = Hypothesis(text, trust=trust)

    def attend(self, context: str) -> None: ...

    def start(self) -> None: ...

    def feed(self, samples: Samples) -> str:
        return ""

    def finish(self, samples: Samples) -> Hypothesis:
        return self._hypothesis


@EVERY_VOICE
@pytest.mark.parametrize("kind", NOISES)
@pytest.mark.parametrize("snr_db", [40, 30, 25, 20, 15, 10])
def test_the_signal_to_noise_that_is_measured_is_the_true_one(voice, kind, snr_db):
    room, phrase = in_noise(voice, kind, snr_db)
    assert calibrated(phrase, room).snr_db == pytest.approx(snr_db, abs=2.0)


def test_it_is_the_same_at_any_gain():
    room, phrase = in_noise("flite_slt", "pink", 25)
    loud, soft = (calibrated(phrase * gain, room * gain) for gain in (1.0, 0.1))
    assert soft.snr_db == pytest.approx(loud.snr_db, abs=0.5)
    assert soft.speech_dbfs == pytest.approx(loud.speech_dbfs - 20.0, abs=0.2)


@EVERY_VOICE
def test_a_clear_voice_in_a_quiet_room_is_good_and_needs_no_advice(voice):
    found = calibrated(sound_of(voice))
    assert (found.verdict, found.advice) == ("good", ())


def test_a_loud_room_is_poor_and_the_microphone_is_to_be_moved_closer():
    room, phrase = in_noise("flite_slt", "scaler", 10)
    found = calibrated(phrase, room)
    assert found.verdict == "poor"
    assert any("closer to the mouth" in advice for advice in found.advice)


def test_the_room_is_measured_in_each_band():
    pink = noises.pink_noise(2.0, np.random.default_rng(3))
    white = quiet_room()
    falls = calibrated(sound_of("flite_slt"), pink).room_by_band_dbfs
    rises = calibrated(sound_of("flite_slt"), white).room_by_band_dbfs
    # The bands widen upwards: white noise has more power in the last, pink about the same.
    assert rises[-1] - rises[0] == pytest.approx(10 * np.log10(1200 / 200), abs=1.0)
    assert falls[-1] - falls[0] < rises[-1] - rises[0] - 5.0


@EVERY_VOICE
def test_a_voice_that_overdrives_the_input_is_turned_down(voice):
    loud = sound_of(voice)
    loud = np.clip(loud * 10 ** (6 / 20) / np.abs(loud).max(), -1, 1)
    found = calibrated(loud)
    assert found.verdict != "good"
    assert any("input level down" in advice for advice in found.advice)


def test_a_voice_cut_off_below_full_scale_is_found_too():
    loud = sound_of("flite_slt")
    limited = np.clip(loud, -0.3 * np.abs(loud).max(), 0.3 * np.abs(loud).max())
    assert clipped_share(samples(limited)) > CLIPPED_SHARE


def test_no_whole_voice_is_taken_for_one_cut_off():
    rows = MANIFEST["sentences"][::5]
    shares = [
        clipped_share(np.concatenate(list(AudioFile(FIXTURES / row["file"]).blocks())))
        for row in rows
    ]
    assert max(shares) < CLIPPED_SHARE


@EVERY_VOICE
def test_a_telephone_band_is_told_from_a_whole_one(voice):
    whole = sound_of(voice)
    narrow = soxr.resample(soxr.resample(whole, SAMPLE_RATE, 8000), 8000, SAMPLE_RATE)
    found = calibrated(narrow)
    assert found.narrow_band and not calibrated(whole).narrow_band
    assert any("nothing above 4 kHz" in advice for advice in found.advice)


def test_a_soft_voice_through_a_telephone_band_is_still_found_narrow():
    whole = sound_of("flite_slt") * 10 ** (-25 / 20)
    narrow = soxr.resample(soxr.resample(whole, SAMPLE_RATE, 8000), 8000, SAMPLE_RATE)
    assert calibrated(narrow).narrow_band, NARROW_DB


def test_a_dead_microphone_is_poor():
    found = calibrated(np.zeros(SAMPLE_RATE * 3), np.zeros(SAMPLE_RATE * 2))
    assert (found.verdict, found.dead) == ("poor", True)
    (advice,) = found.advice
    assert "mute switch" in advice


def test_a_room_silent_to_the_last_bit_under_a_voice_is_noise_suppression():
    found = calibrated(sound_of("flite_slt"), np.zeros(SAMPLE_RATE * 2))
    assert found.gated and not found.dead
    assert any("noise suppression" in advice for advice in found.advice)


def test_nothing_said_is_poor():
    found = calibrated(noises.room_floor(4.0, np.random.default_rng(5)))
    assert (found.verdict, found.snr_db, found.speech_dbfs) == ("poor", None, None)
    assert any("No speech" in advice for advice in found.advice)


def test_speech_before_the_phrase_spoils_the_measurement_of_the_room():
    room = np.concatenate([sound_of("flite_rms"), quiet_room(0.5)])
    assert any(
        "Somebody spoke" in advice for advice in calibrated(sound_of("flite_slt"), room).advice
    )


def test_a_soft_voice_is_turned_up():
    found = calibrated(sound_of("flite_slt") * 0.03, quiet_room() * 0.03)
    assert found.verdict == "usable"
    assert any("input level up" in advice for advice in found.advice)


@pytest.mark.parametrize("offset", [-0.1, 0.03, 0.3])
def test_an_offset_is_measured_and_changes_no_level(offset):
    plain, moved = (
        calibrated(sound_of("flite_slt") * 0.5 + by, quiet_room() + by) for by in (0.0, offset)
    )
    assert moved.dc_offset == pytest.approx(offset, abs=0.001)
    assert moved.room_dbfs == pytest.approx(plain.room_dbfs, abs=0.5)
    assert moved.snr_db == pytest.approx(plain.snr_db, abs=0.5)
    assert any("rest at zero" in advice for advice in moved.advice)


@pytest.mark.parametrize("mains_hz", [50, 60])
@pytest.mark.parametrize("drift_hz", [0.0, 0.1])
def test_the_mains_are_told_by_their_tones(mains_hz, drift_hz):
    moment = np.arange(2 * SAMPLE_RATE) / SAMPLE_RATE
    tones = [np.sin(2 * np.pi * (mains_hz + drift_hz) * n * moment) / n for n in (1, 2, 3)]
    hum = 0.005 * np.sum(tones, axis=0)
    found, level = mains_hum(samples(quiet_room() + hum))
    assert found == mains_hz
    assert level == pytest.approx(10 * np.log10(np.mean(hum**2)), abs=1.5)


@pytest.mark.parametrize("kind", NOISES)
@pytest.mark.parametrize("seed", range(5))
def test_noise_and_the_motor_of_a_suction_pump_are_not_the_mains(kind, seed):
    assert mains_hum(samples(NOISES[kind](2.0, np.random.default_rng(seed))))[0] is None


@pytest.mark.parametrize(
    ("text", "trust", "understood", "verdict"),
    [
        ("two oh eight", "sure", "yes", "good"),
        ("two oh eight", "doubtful", "unsure", "usable"),
        ("two oh nine", "sure", "no", "poor"),
        ("two oh eight", "foreign", "no", "poor"),
    ],
)
def test_the_verdict_is_no_better_than_what_was_understood(text, trust, understood, verdict):
    room, phrase = samples(quiet_room()), samples(sound_of("flite_slt"))
    found = calibrate(room, phrase, "two oh eight", Hears(text, trust))
    assert (found.understood, found.verdict) == (understood, verdict)


def test_the_embedded_engine_understands_a_clear_phrase():
    recogniser = SphinxRecogniser(spoken_languages())
    recogniser.attend(CHARTING)
    row = ROWS["flite_slt"]
    found = calibrate(
        samples(quiet_room()), samples(sound_of("flite_slt")), row["text"], recogniser
    )
    assert (found.heard, found.understood) == (row["text"], "yes")


@pytest.mark.parametrize(("room_s", "phrase_s"), [(0.5, 3.0), (2.0, 0.0)])
def test_too_little_sound_is_refused(room_s, phrase_s):
    room, phrase = (np.zeros(round(s * SAMPLE_RATE), np.int16) for s in (room_s, phrase_s))
    with pytest.raises(DictateError, match="record more"):
        calibrate(room, phrase)


def test_the_phrase_that_is_asked_for_can_be_said():
    assert spoken_languages()[CHARTING].allows(PHRASE.split())


def test_every_advice_is_one_line_that_ends_as_a_sentence():
    room, phrase = in_noise("flite_slt", "scaler", 10)
    found = calibrated(np.clip(phrase * 9, -1, 1) + 0.1, room + 0.1)
    assert len(found.advice) >= 3
    assert all("\n" not in line and line.endswith(".") for line in lines_of(found, PHRASE))


class Played:
    """A microphone that gives a sound in blocks of 30 ms, and ends."""

    name = "Desk microphone"

    def __init__(self, sound: np.ndarray) -> None:
        self.given = 0
        self._samples = samples(sound)

    def blocks(self) -> Iterator[Samples]:
        for start in range(0, len(self._samples), 480):
            self.given = start
            yield self._samples[start : start + 480]


def test_the_microphone_is_asked_for_the_room_and_then_for_the_phrase(capsys):
    speech = sound_of("flite_slt")
    source = Played(np.concatenate([quiet_room(2.3), speech, quiet_room(20.0)]))
    room, phrase = record(source, PHRASE)
    said = capsys.readouterr()
    assert said.out == "" and "say nothing" in said.err and PHRASE in said.err
    assert len(room) == 2 * SAMPLE_RATE
    # It stops once the phrase is over, and does not wait for the rest.
    assert len(speech) <= len(phrase) < len(speech) + SAMPLE_RATE
    assert calibrate(room, phrase).verdict == "good"


def test_a_phrase_that_never_comes_is_not_waited_for_forever():
    _, phrase = record(Played(quiet_room(60.0)), PHRASE)
    assert len(phrase) / SAMPLE_RATE == pytest.approx(10.0, abs=0.1)


def test_a_microphone_that_stops_is_said_to_have_stopped():
    with pytest.raises(DictateError, match="plug it in"):
        record(Played(quiet_room(1.0)), PHRASE)


def written(path: Path, sound: np.ndarray) -> str:
    soundfile.write(path, sound, SAMPLE_RATE)
    return str(path)


def test_recordings_are_calibrated_by_the_command(tmp_path):
    row = ROWS["flite_slt"]
    room = written(tmp_path / "room.wav", quiet_room())
    recordings = ["--file", room, "--phrase", str(FIXTURES / row["file"])]
    run = CliRunner().invoke(app, ["calibrate", "--json", *recordings, "--say", row["text"]])
    assert run.exit_code == 0, run.output
    data = json.loads(run.stdout)
    assert (data["verdict"], data["understood"], data["heard"]) == ("good", "yes", row["text"])


def test_a_poor_microphone_ends_with_exit_code_1(tmp_path):
    silence = written(tmp_path / "silence.wav", np.zeros(2 * SAMPLE_RATE))
    run = CliRunner().invoke(app, ["calibrate", "--file", silence, "--phrase", silence])
    assert run.exit_code == 1
    assert "Verdict: poor." in run.stdout and "mute switch" in run.stdout


@pytest.mark.parametrize(
    "arguments", [["--file", "room.wav"], ["--phrase", "phrase.wav"], ["--say", "good morning"]]
)
def test_what_cannot_be_calibrated_is_refused_in_one_sentence(arguments):
    run = CliRunner().invoke(app, ["calibrate", *arguments])
    assert isinstance(run.exception, DictateError)
    assert "\n" not in str(run.exception)
