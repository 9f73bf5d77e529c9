"""From samples to features: mel bands, suppression of noise, and what clear sound is."""

import numpy as np
import pytest
import soxr

from audio_fixtures.noises import pink_noise
from audio_fixtures.sound import at_level, generator
from dictate.speech.audio import SAMPLE_RATE
from dictate.speech.audio_file import AudioFile
from dictate.speech.front_end import (
    cepstra,
    features,
    is_clear,
    is_loud,
    is_narrow,
    is_noisy,
    mel_bands,
    narrow_band_model,
    narrowed,
    stretched,
    without_noise,
)
from dictate.speech.sphinx_decoder import IN_NOISE
from dictate.speech.transform import read_mllr
from tests.fixture_replay import FIXTURES, MANIFEST


@pytest.fixture(scope="module")
def sentence() -> np.ndarray:
    row = next(row for row in MANIFEST["sentences"] if row["voice"] == "flite_rms")
    return np.concatenate(list(AudioFile(FIXTURES / row["file"]).blocks()))


def in_noise(samples: np.ndarray, dbfs: float) -> np.ndarray:
    noise = at_level(pink_noise(len(samples) / SAMPLE_RATE, generator("front end")), dbfs)
    return np.clip(samples + 32768 * noise[: len(samples)], -32768, 32767).astype(np.int16)


def tone(hz: float) -> np.ndarray:
    return (8000 * np.sin(2 * np.pi * hz * np.arange(8000) / SAMPLE_RATE)).astype(np.int16)


def test_a_frame_comes_every_ten_milliseconds():
    assert features(np.zeros(16000, np.int16)).shape == (98, 13)


def test_less_than_a_frame_of_sound_has_no_features():
    assert features(np.zeros(300, np.int16)).shape == (0, 13)


@pytest.mark.parametrize("hz", [300, 1000, 3000, 6000])
def test_a_tone_is_loudest_in_the_band_around_it(hz):
    """The mel scale of O'Shaughnessy (1987): 2595 log10(1 + f / 700), from memory."""
    edges = np.linspace(*(2595 * np.log10(1 + np.array([130, 6800]) / 700)), 27)
    middles = 700 * (10 ** (edges[1:-1] / 2595) - 1)
    loudest = int(mel_bands(tone(hz)).mean(axis=0).argmax())
    assert abs(int(np.abs(middles - hz).argmin()) - loudest) <= 1


def test_the_cepstra_are_the_scaled_cosine_transform_of_the_log_bands():
    """Equal bands have no shape: all but the first cepstrum are 0."""
    flat = cepstra(np.full((4, 25), np.e))
    assert flat[:, 0] == pytest.approx(5.0)
    assert flat[:, 1:] == pytest.approx(0.0, abs=1e-5)


def test_noise_at_the_edges_is_turned_down_and_speech_is_not(sentence):
    noisy = mel_bands(in_noise(sentence, -40))
    before = noisy[is_loud(noisy)].mean() / noisy[:20].mean()
    quiet = without_noise(noisy)
    after = quiet[is_loud(noisy)].mean() / quiet[:20].mean()
    assert 10 * np.log10(after / before) > 6


def test_suppression_brings_noisy_features_nearer_to_the_clean_ones(sentence):
    clean = cepstra(without_noise(mel_bands(sentence)))
    noisy = mel_bands(in_noise(sentence, -35))
    left = np.abs(cepstra(without_noise(noisy)) - clean).mean()
    assert left < np.abs(cepstra(noisy) - clean).mean()


def test_a_quiet_room_is_clear(sentence):
    assert is_clear(mel_bands(sentence))


def test_noise_is_not_clear(sentence):
    assert not is_clear(mel_bands(in_noise(sentence, -38)))


def through_a_telephone(samples: np.ndarray, floor_dbfs: float | None) -> np.ndarray:
    narrow = soxr.resample(soxr.resample(samples / 32768, SAMPLE_RATE, 8000), 8000, SAMPLE_RATE)
    if floor_dbfs is not None:
        noise = generator("narrow").standard_normal(len(narrow))
        narrow = narrow + 10 ** (floor_dbfs / 20) * noise
    return np.round(narrow * 32767).astype(np.int16)


@pytest.mark.parametrize("floor_dbfs", [-64, None])
def test_a_narrow_band_is_told_and_is_not_clear(sentence, floor_dbfs):
    narrow = mel_bands(through_a_telephone(sentence, floor_dbfs))
    assert is_narrow(narrow)
    assert not is_clear(narrow)


def test_a_whole_band_is_not_narrow(sentence):
    assert not is_narrow(mel_bands(sentence))
    assert not is_narrow(np.zeros((0, 25)))


def test_the_model_of_a_narrow_band_expects_the_features_of_one():
    """Exactly so for spectra that the 13 cepstra tell wholly."""
    smooth = (
        generator("smooth").standard_normal((6, 13))
        @ np.linalg.pinv(
            np.stack([cepstra(np.exp(band)[None])[0] for band in np.eye(25)]).T.astype(float)
        ).T
    )
    wide, narrow = cepstra(np.exp(smooth)), cepstra(narrowed(np.exp(smooth)))
    model = narrow_band_model()
    assert np.allclose(model.rotation[0] @ wide.T, narrow.T, atol=1e-4)
    assert (model.offset == 0).all()


def test_another_voice_is_looked_for_within_the_narrow_band_only(sentence):
    narrow = narrowed(mel_bands(sentence))
    assert stretched(narrow, 1.04).shape == narrow.shape


def test_a_shorter_vocal_tract_moves_a_formant_to_the_band_where_it_would_be():
    bands = np.ones((1, 25))
    bands[0, 20] = 100.0
    assert int(stretched(bands, 1.25).argmax()) == 16


def test_the_same_vocal_tract_changes_nothing():
    bands = generator("bands").uniform(1, 9, (3, 25))
    assert stretched(bands, 1.0) == pytest.approx(bands)


def test_speech_in_noise_is_told_from_speech_in_quiet(sentence):
    assert is_noisy(mel_bands(in_noise(sentence, -40)))
    assert not is_noisy(mel_bands(sentence))
    assert not is_noisy(np.zeros((0, 25)))


def test_in_noise_the_model_expects_features_that_vary_less():
    """What noise hides varies less than what is heard, and fine detail of the spectrum least."""
    transform = read_mllr(IN_NOISE.read_text(encoding="ascii"))
    kept = np.diag(transform.rotation[0])
    assert kept.min() > 0.6 and kept.max() < 1.0
    assert kept[-3:].mean() < kept[1:4].mean()
    assert (transform.offset[1:] == 0).all()
