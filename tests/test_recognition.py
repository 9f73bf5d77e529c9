"""The embedded engine on real audio, against what the fixtures say was spoken.

The audio is synthetic: sentences and expected findings stand in audio_fixtures/. Room speech is
real: two readers of a novel, from recordings in the public domain.
"""

from pathlib import Path

import numpy as np
import pytest
import soxr

from dictate.grammar.spoken import spoken_languages
from dictate.speech.audio import SAMPLE_RATE
from dictate.speech.audio_file import AudioFile
from dictate.speech.segmentation import utterances, whole_file
from dictate.speech.sphinx import SphinxRecogniser
from tests.fixture_replay import (
    CHARTING_VOICES,
    FIXTURES,
    MANIFEST,
    SHARED,
    Tally,
    findings_of,
    not_charting,
    play,
    sentences_by_voice,
)


@pytest.fixture(scope="module")
def engine() -> SphinxRecogniser:
    return SphinxRecogniser(spoken_languages())


@pytest.fixture(scope="module")
def tally_of(engine) -> dict[str, Tally]:
    """By voice; the voices take a minute to hear, so they are heard once."""
    return sentences_by_voice(engine, lambda voice: voice.startswith(CHARTING_VOICES))


def test_of_the_findings_spoken_by_flite_and_festival_92_percent_are_charted_unasked(tally_of):
    tallies = tally_of.values()
    wanted = sum(tally.wanted for tally in tallies)
    right = sum(tally.right for tally in tallies)
    misses = [miss for tally in tallies for miss in tally.misses]
    assert right / wanted >= 0.92, f"{right} of {wanted}: {misses}"


def test_of_what_is_charted_at_most_1_percent_was_not_spoken(tally_of):
    tallies = [tally_of["flite_rms"], tally_of["flite_awb"]]
    wrong = sum(tally.wrong for tally in tallies)
    assert wrong <= sum(tally.right for tally in tallies) / 100


@pytest.mark.parametrize("path", list(not_charting()), ids=lambda path: path.stem)
def test_nothing_is_charted_from_what_is_not_charting(engine, path):
    session, _ = play([path], engine)
    assert findings_of(session) == []


@pytest.mark.skipif(not SHARED.exists(), reason="the folder of shared recordings is not here")
def test_room_speech_is_among_what_is_not_charting():
    assert sum("room_speech" in str(path) for path in not_charting()) >= 2


@pytest.mark.parametrize("row", MANIFEST["dictations"], ids=lambda row: row["species"])
def test_of_a_whole_mouth_nearly_every_finding_is_charted_and_none_invented(engine, row):
    session, _ = play([FIXTURES / row["file"]], engine, row["species"])
    got, wanted = findings_of(session), row["chart"]
    right = sum(each in got for each in wanted)
    least = {"dog": 0.95, "cat": 0.9}[row["species"]]
    assert right / len(wanted) >= least
    assert [each for each in got if each not in wanted] == []


def test_partial_words_come_while_the_speaker_speaks(engine):
    row = next(row for row in MANIFEST["sentences"] if row["voice"] == "flite_slt")
    from dictate.speech.audio_file import AudioFile

    engine.start()
    partials = [engine.feed(block) for block in AudioFile(FIXTURES / row["file"]).blocks()]
    assert partials[-1].split()[:3] == row["text"].split()[:3]


def through_a_telephone(path: Path) -> np.ndarray:
    sound = np.concatenate(list(AudioFile(path).blocks()))
    narrow = soxr.resample(soxr.resample(sound / 32768, SAMPLE_RATE, 8000), 8000, SAMPLE_RATE)
    return np.clip(np.round(narrow * 32768), -32768, 32767).astype(np.int16)


def test_of_what_comes_through_a_telephone_nine_in_ten_sentences_are_heard_rightly(engine):
    """With the model of whole-band sound it is about two in three."""
    rows = [row for row in MANIFEST["sentences"] if row["voice"] == "flite_rms"][:20]
    heard = [engine.finish(through_a_telephone(FIXTURES / row["file"])).text for row in rows]
    wanted = [row["text"].replace(",", "") for row in rows]
    assert sum(map(str.__eq__, heard, wanted)) >= 18


@pytest.mark.parametrize("kind", ["silence", "pink", "scaler"])
def test_a_steady_sound_says_nothing(kind, engine):
    """Silence, one noise all along: there are edges and nothing that stands out of them."""
    file = FIXTURES / next(row["file"] for row in MANIFEST["noise"] if row["id"] == kind)
    heard = [engine.finish(whole_file(AudioFile(file)).samples)]
    heard += [engine.finish(each.samples) for each in utterances(AudioFile(file))]
    assert {each.trust for each in heard} == {"foreign"}


def test_a_sentence_that_is_heard_surely_is_asked_about_when_it_is_made_much_too_loud(engine):
    file = FIXTURES / "sentences" / "flite_slt" / "dog_pocket_mesial.flac"
    said = whole_file(AudioFile(file)).samples
    assert engine.finish(said).trust == "sure"
    loud = np.clip(said.astype(np.int32) * 12, -32768, 32767).astype(np.int16)
    assert engine.evidence(loud).clipped > 0.05
    assert engine.finish(loud).trust != "sure"
