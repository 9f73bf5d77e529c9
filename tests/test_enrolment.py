import json
import os
import stat
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from dictate.cli import app
from dictate.enrolment.acoustic_model import acoustic_model
from dictate.enrolment.adapt import adapt, align_all, estimated, log_likelihood
from dictate.enrolment.alignment import Aligned, Aligner, streams_of
from dictate.enrolment.enrol import FEWEST_READINGS, EnrolmentError, Reading, enrol, helps
from dictate.enrolment.phrases import PHRASES, Phrase, enrolment_phrases, phones_in
from dictate.enrolment.reading import Asked, Taken, read_folder, read_live
from dictate.enrolment.voice import (
    Gain,
    find_voice,
    keep_voice,
    kept_voices,
    remove_voice,
    voices_folder,
)
from dictate.errors import DictateError
from dictate.grammar.spoken import CHARTING, spoken_languages
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.front_end import features
from dictate.speech.recogniser import Hypothesis
from dictate.speech.segmentation import utterances
from dictate.speech.transform import CEPSTRA, UNCHANGED, Transform, mllr_text, read_mllr
from tests.fixture_replay import FIXTURES, MANIFEST

NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
WORTH_IT = Gain(
    checked=20,
    likelihood=2.5,
    understood_before=11,
    understood_after=17,
    wrong_before=2,
    wrong_after=0,
)


@pytest.fixture(autouse=True)
def own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))


@cache
def sentences(voice: str, count: int) -> tuple[Reading, ...]:
    """Sentences of audio_fixtures that are one utterance, as a voice reads them."""
    found = []
    for row in MANIFEST["sentences"]:
        if row["voice"] == voice and len(found) < count:
            spoken = list(utterances(AudioFile(FIXTURES / row["file"])))
            text = row["text"].replace(",", "")
            if len(spoken) == 1 and spoken_languages()[CHARTING].allows(text.split()):
                found.append(Reading(CHARTING, text, spoken[0].samples))
    return tuple(found)


def pairs(readings: tuple[Reading, ...]) -> list[tuple[str, Samples]]:
    return [(each.text, each.samples) for each in readings]


@cache
def fitted_to_espeak() -> Transform:
    transform = adapt(spoken_languages(), pairs(sentences("espeak_en_gb", 15)[:10]))
    assert transform is not None
    return transform


# What is read


def test_every_sound_of_the_grammars_is_read():
    languages = spoken_languages()
    wanted = {phone for word in languages.words for phone in phones_in(languages, word)}
    read = {
        phone for each in enrolment_phrases(languages) for phone in phones_in(languages, each.text)
    }
    assert wanted - read == set()


def test_every_phrase_can_be_said_in_its_part_of_the_visit():
    languages = spoken_languages()
    for phrase in enrolment_phrases(languages):
        assert languages[phrase.context].allows(phrase.text.split()), phrase


def test_half_of_the_phrases_are_charting_and_none_comes_twice():
    phrases = enrolment_phrases(spoken_languages())
    assert [each.number for each in phrases] == list(range(1, PHRASES + 1))
    assert sum(each.context == CHARTING for each in phrases) == PHRASES // 2
    assert len({each.text for each in phrases}) == PHRASES


def test_the_phrases_are_the_same_every_time():
    first = enrolment_phrases(spoken_languages())
    enrolment_phrases.cache_clear()
    assert enrolment_phrases(spoken_languages()) == first


# The model and the alignment


def test_the_model_is_read_whole():
    model = acoustic_model()
    assert "SIL" in model.phones
    assert len(set(model.phones)) == len(model.phones) == len(model.means)
    # Weights are stored in 8 bits of a logarithm, each rounded down.
    sums = np.exp(model.log_weights).sum(axis=1)
    assert sums.min() > 0.9 and sums.max() < 1.05


def test_the_differences_of_a_steady_rise_are_steady_and_then_none():
    rise = np.arange(30.0)[:, np.newaxis] * np.ones(CEPSTRA)
    streams = streams_of(rise)
    assert streams.shape == (30, 3, CEPSTRA)
    assert np.allclose(streams[:, 0].mean(axis=0), 0)
    assert np.allclose(streams[5:-5, 1], 4)
    assert np.allclose(streams[5:-5, 2], 0)


def test_the_words_that_were_said_fit_better_than_nearly_the_same():
    reading = sentences("flite_slt", 1)[0]
    assert reading.text == "two oh eight pocket five mesial"
    texts = [reading.text, "two oh eight pocket nine mesial"]
    right, wrong = align_all(spoken_languages(), [(text, reading.samples) for text in texts])
    assert right is not None and wrong is not None
    model = acoustic_model()
    assert log_likelihood(model, UNCHANGED, right) > log_likelihood(model, UNCHANGED, wrong)


def test_aligned_frames_follow_the_phones_of_the_words():
    reading = sentences("flite_slt", 1)[0]
    (aligned,) = align_all(spoken_languages(), pairs((reading,)))
    assert aligned is not None
    names = [acoustic_model().phones[place] for place in aligned.codebooks]
    order = [name for place, name in enumerate(names) if place == 0 or names[place - 1] != name]
    spoken = [name for name in order if name != "SIL"]
    assert spoken[:5] == ["T", "UW", "OW", "EY", "T"]


def test_words_that_cannot_have_been_said_in_the_time_are_not_aligned():
    short = np.zeros(SAMPLE_RATE // 10, np.int16)
    text = "two oh eight calculus two pocket five mesial"
    assert align_all(spoken_languages(), [(text, short)]) == [None]


def test_the_engine_aligns_the_same_with_a_transform_that_changes_nothing(tmp_path: Path):
    reading = sentences("flite_slt", 1)[0]
    mllr = tmp_path / "mllr"
    mllr.write_text(mllr_text(UNCHANGED))
    plain, same = Aligner(spoken_languages()), Aligner(spoken_languages(), mllr)
    first, second = (each.align(reading.text, reading.samples) for each in (plain, same))
    assert first is not None and second is not None
    assert np.array_equal(first.senones, second.senones)


def test_no_sound_is_left_behind_by_an_alignment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    (aligned,) = align_all(spoken_languages(), pairs(sentences("flite_slt", 1)), UNCHANGED)
    assert aligned is not None
    assert list(tmp_path.iterdir()) == []


def test_what_is_aligned_is_what_the_engine_decodes():
    reading = sentences("flite_slt", 1)[0]
    aligned = Aligner(spoken_languages()).align(reading.text, reading.samples)
    assert aligned is not None
    heard = streams_of(features(reading.samples).astype(np.float64))
    assert np.array_equal(aligned.features, heard[: len(aligned.features)])


def test_frames_without_energy_do_not_move_the_mean():
    heard = np.ones((6, CEPSTRA))
    heard[:2] = -30
    assert np.allclose(streams_of(heard)[2:, 0], 0)


# The regression


def test_a_speaker_who_differs_by_a_known_transform_is_found():
    model, random = acoustic_model(), np.random.default_rng(1)
    read = [
        each for each in align_all(spoken_languages(), pairs(sentences("flite_slt", 12))) if each
    ]
    codebooks = np.concatenate([each.codebooks for each in read])
    senones = np.concatenate([each.senones for each in read])
    spread = np.sqrt(np.median(model.variances[model.speech], axis=(0, 2)))
    true = Transform(UNCHANGED.rotation * 0.9, spread * random.choice([-0.7, 0.7], spread.shape))
    moved = true.of(model.means)
    spoken = np.empty((len(senones), 3, CEPSTRA))
    for stream in range(3):
        weights = np.exp(model.log_weights[stream][:, senones])
        reached = np.cumsum(weights / weights.sum(axis=0), axis=0) > random.random(len(senones))
        made_by = (codebooks, stream, reached.argmax(axis=0))
        noise = random.standard_normal((len(senones), CEPSTRA))
        spoken[:, stream] = moved[made_by] + noise * np.sqrt(model.variances[made_by])
    found = UNCHANGED
    for _ in range(8):
        found = estimated(model, found, [Aligned(spoken, codebooks, senones)])
    speech = model.speech
    before = np.abs(model.means[speech] - moved[speech]).mean()
    after = np.abs(found.of(model.means)[speech] - moved[speech]).mean()
    assert after < before / 2


def test_without_much_speech_little_changes():
    reading = sentences("espeak_en_gb", 15)[0]
    (aligned,) = align_all(spoken_languages(), pairs((reading,)))
    assert aligned is not None
    few = Aligned(aligned.features[:1], aligned.codebooks[:1], aligned.senones[:1])
    found = estimated(acoustic_model(), UNCHANGED, [few])
    assert np.isfinite(found.rotation).all()
    assert np.allclose(found.rotation, UNCHANGED.rotation, atol=0.2)


def test_sentences_that_were_not_read_become_more_likely():
    model = acoustic_model()
    held_back = align_all(spoken_languages(), pairs(sentences("espeak_en_gb", 15)[10:]))
    rises = [
        log_likelihood(model, fitted_to_espeak(), each) - log_likelihood(model, UNCHANGED, each)
        for each in held_back
        if each is not None
    ]
    assert len(rises) == 5
    assert min(rises) > 0


# Its file


def test_a_transform_is_read_as_it_was_written():
    again = read_mllr(mllr_text(fitted_to_espeak()))
    assert np.allclose(again.rotation, fitted_to_espeak().rotation, rtol=1e-6)
    assert np.allclose(again.offset, fitted_to_espeak().offset, rtol=1e-6)


@pytest.mark.parametrize(
    "damaged",
    [
        lambda text: "",
        lambda text: text[: len(text) // 2],
        lambda text: text.replace("13", "12", 1),
        lambda text: text.replace("\n0 ", "\nnan ", 1),
        lambda text: "2" + text[1:],
        lambda text: text.rstrip()[:-1] + "0",
    ],
)
def test_a_damaged_transform_is_never_given_to_the_engine(damaged):
    with pytest.raises(ValueError, match=r"transform|variances"):
        read_mllr(damaged(mllr_text(UNCHANGED)))


# What is kept


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_kept_voice_is_readable_by_its_owner_alone():
    keep_voice("Dr. Ada Lind", UNCHANGED, 20, WORTH_IT, NOW)
    mllr = find_voice("Dr. Ada Lind").mllr
    assert mllr is not None
    assert {mode(each) for each in (mllr, mllr.with_name("voice.json"))} == {0o600}
    assert {mode(each) for each in (mllr.parent, voices_folder())} == {0o700}


def test_a_kept_voice_says_when_and_from_what_it_was_made():
    keep_voice("Dr. Ada Lind", UNCHANGED, 20, WORTH_IT, NOW)
    (voice,) = kept_voices()
    assert (voice.clinician, voice.enrolled, voice.phrases) == ("Dr. Ada Lind", NOW, 20)
    assert voice.gain == WORTH_IT
    assert voice.engine.startswith("pocketsphinx 5")


def test_capitals_and_spaces_do_not_make_another_clinician():
    keep_voice("Dr. Ada Lind", UNCHANGED, 20, WORTH_IT, NOW)
    assert find_voice("  dr.  ada LIND ").mllr is not None


@pytest.mark.parametrize("other", ["Dr Ada Lind", "Dr. Åda Lind", "Dr. Ada Lindh", ""])
def test_nobody_is_heard_with_the_voice_of_another(other):
    keep_voice("Dr. Ada Lind", UNCHANGED, 20, WORTH_IT, NOW)
    assert find_voice(other) == find_voice("nobody")
    assert find_voice(other).mllr is None


@pytest.mark.parametrize("name", ["../../etc", "/etc/passwd", "李", "a" * 200, "CON", "..", "a\\b"])
def test_whatever_the_name_a_voice_stays_in_the_folder_of_voices(name):
    keep_voice(name, UNCHANGED, 20, WORTH_IT, NOW)
    mllr = find_voice(name).mllr
    assert mllr is not None
    assert mllr.parent.parent == voices_folder()


@pytest.mark.parametrize("name", ["", "  ", "Ada\nLind", "Ada\u202eLind", "a" * 201])
def test_a_name_that_cannot_be_shown_is_refused(name):
    with pytest.raises(DictateError, match="Give the clinician's name"):
        keep_voice(name, UNCHANGED, 20, WORTH_IT, NOW)


def test_a_damaged_voice_is_not_used_and_says_what_to_do():
    keep_voice("Ada", UNCHANGED, 20, WORTH_IT, NOW)
    mllr = find_voice("Ada").mllr
    assert mllr is not None
    changed = replace(UNCHANGED, offset=UNCHANGED.offset + 1)
    for text in ("1 3 13", mllr_text(changed)):
        mllr.write_text(text)
        found = find_voice("Ada")
        assert found.mllr is None
        assert found.problem is not None and "dictate voice enrol" in found.problem


def test_a_voice_made_for_another_engine_is_not_used():
    keep_voice("Ada", UNCHANGED, 20, WORTH_IT, NOW)
    (about,) = voices_folder().glob("*/voice.json")
    for key in ("engine", "model"):
        kept = json.loads(about.read_text())
        about.write_text(json.dumps(kept | {key: "another"}))
        found = find_voice("Ada")
        assert found.mllr is None
        assert found.problem is not None and "another engine" in found.problem
        about.write_text(json.dumps(kept))


def test_a_removed_voice_is_gone():
    keep_voice("Ada", UNCHANGED, 20, WORTH_IT, NOW)
    remove_voice("ada")
    assert list(voices_folder().iterdir()) == []
    with pytest.raises(DictateError, match="No voice of Ada is kept: none is kept"):
        remove_voice("Ada")


# Kept only where it helps


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({}, True),
        ({"understood_after": 14, "wrong_after": 2}, True),
        ({"likelihood": 0.0}, False),
        ({"likelihood": -0.1}, False),
        ({"understood_after": 10}, False),
        ({"understood_after": 13}, False),
        ({"wrong_after": 3}, False),
    ],
)
def test_a_voice_is_kept_only_where_it_helps(change, kept):
    assert helps(WORTH_IT.model_copy(update=change)) is kept


class Said:
    """A recogniser that hears what it is told to, whatever the sound."""

    name = "said"

    def __init__(self, heard: dict[bytes, Hypothesis]) -> None:
        self._heard = heard

    def attend(self, context: str) -> None: ...

    def start(self) -> None: ...

    def feed(self, samples: Samples) -> str:
        return ""

    def finish(self, samples: Samples) -> Hypothesis:
        return self._heard[samples.tobytes()]


def hearing(readings: tuple[Reading, ...], wrong: int = 0, unsure: int = 0) -> Said:
    """Hear the first `wrong` readings as another sentence, the next `unsure` with a doubt."""
    heard = {}
    for place, each in enumerate(readings):
        text = "three ten missing" if place < wrong else each.text
        trust = "doubtful" if wrong <= place < wrong + unsure else "sure"
        heard[each.samples.tobytes()] = Hypothesis(text, trust=trust)
    return Said(heard)


@pytest.fixture
def any_transform(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the engines only pretend to hear, one transform is as good as another."""
    monkeypatch.setattr("dictate.enrolment.enrol.adapt", lambda *_: fitted_to_espeak())


@pytest.mark.usefixtures("any_transform")
def test_a_voice_that_loses_a_phrase_is_refused():
    readings = sentences("flite_slt", FEWEST_READINGS)
    worse = hearing(readings, unsure=1)
    with pytest.raises(EnrolmentError, match="not kept, for it does not help") as refused:
        enrol(spoken_languages(), readings, lambda mllr: worse if mllr else hearing(readings))
    gain = refused.value.gain
    assert gain is not None
    assert (gain.understood_before, gain.understood_after) == (12, 11)


@pytest.mark.usefixtures("any_transform")
def test_a_voice_that_mishears_surely_is_refused_though_it_understands_more():
    readings = sentences("flite_slt", FEWEST_READINGS)
    before, after = hearing(readings, unsure=5), hearing(readings, wrong=1)
    with pytest.raises(EnrolmentError, match="0 and 1 wrongly"):
        enrol(spoken_languages(), readings, lambda mllr: after if mllr else before)


def test_a_voice_is_tried_on_every_phrase_and_made_from_all():
    readings = sentences("espeak_en_gb", FEWEST_READINGS)
    before, after = hearing(readings, unsure=5), hearing(readings)
    done = enrol(spoken_languages(), readings, lambda mllr: after if mllr else before)
    assert (done.gain.checked, done.phrases) == (FEWEST_READINGS, FEWEST_READINGS)
    assert (done.gain.understood_before, done.gain.understood_after) == (7, 12)
    assert done.gain.likelihood > 0


def test_too_few_phrases_make_no_voice():
    readings = sentences("flite_slt", FEWEST_READINGS)[:-1]
    with pytest.raises(EnrolmentError, match="Only 11 phrases fit their words"):
        enrol(spoken_languages(), readings, lambda mllr: hearing(readings))


def test_silence_makes_no_voice():
    silence = [Reading(CHARTING, "two oh eight", np.zeros(1600, np.int16))] * 20
    with pytest.raises(EnrolmentError, match="Only 0 phrases"):
        enrol(spoken_languages(), silence, lambda mllr: hearing(()))


# How phrases come in


class Playing:
    name = "a recording"

    def __init__(self, sounds: list[Samples]) -> None:
        self._sounds = sounds

    def blocks(self) -> Iterator[Samples]:
        pause = np.zeros(SAMPLE_RATE, np.int16)
        sound = np.concatenate([pause, *(part for each in self._sounds for part in (each, pause))])
        for first in range(0, len(sound), 480):
            yield sound[first : first + 480]


class Always(Said):
    def __init__(self, *texts: str) -> None:
        self._texts = list(texts)

    def finish(self, samples: Samples) -> Hypothesis:
        return Hypothesis(self._texts.pop(0), trust="sure")


def test_a_phrase_that_is_not_understood_is_asked_for_once_more():
    first, second = (
        Phrase(number, CHARTING, each.text)
        for number, each in enumerate(sentences("flite_slt", 2), start=1)
    )
    one, two = (each.samples for each in sentences("flite_slt", 2))
    told: list[object] = []
    engine = Always("missing", first.text, "missing", "missing")
    source = Playing([one, one, two, two])
    readings = read_live([first, second], source, engine, spoken_languages(), told.append)
    asked = [(each.phrase.number, each.again) for each in told if isinstance(each, Asked)]
    assert asked == [(1, False), (1, True), (2, False), (2, True)]
    understood = [each.understood for each in told if isinstance(each, Taken)]
    assert understood == [False, True, False, False]
    assert [each.text for each in readings] == [first.text, second.text]


def test_reading_that_breaks_off_makes_no_voice():
    phrases = [Phrase(n, CHARTING, "two oh eight pocket five mesial") for n in (1, 2)]
    source = Playing([sentences("flite_slt", 1)[0].samples])
    engine = Always(phrases[0].text)
    with pytest.raises(DictateError, match="ended after 1 of 2 phrases"):
        read_live(phrases, source, engine, spoken_languages(), lambda told: None)


def test_recordings_are_taken_by_their_numbers(tmp_path: Path):
    phrases = enrolment_phrases(spoken_languages())
    for name in ("2.wav", "010.WAV"):
        soundfile.write(tmp_path / name, sentences("flite_slt", 1)[0].samples, SAMPLE_RATE)
    (tmp_path / "notes.txt").write_text("read on Monday")
    readings = read_folder(phrases, tmp_path)
    assert [each.text for each in readings] == [phrases[1].text, phrases[9].text]


@pytest.mark.parametrize(
    ("names", "sentence"),
    [
        ([], "has no recordings"),
        (["21.wav"], "is of no phrase"),
        (["1.wav", "01.flac"], "are of one phrase"),
    ],
)
def test_a_folder_that_cannot_be_meant_is_refused(tmp_path: Path, names, sentence):
    for name in names:
        soundfile.write(tmp_path / name, np.zeros(SAMPLE_RATE, np.int16), SAMPLE_RATE)
    with pytest.raises(DictateError, match=sentence):
        read_folder(enrolment_phrases(spoken_languages()), tmp_path)


# The commands


def run(*arguments: str):
    return CliRunner().invoke(app, ["voice", *arguments])


def test_the_phrases_are_printed_with_their_numbers():
    lines = run("phrases").stdout.splitlines()
    phrases = enrolment_phrases(spoken_languages())
    assert [line.split(maxsplit=1) for line in lines] == [[str(p.number), p.text] for p in phrases]


def test_voices_are_listed_and_removed():
    keep_voice("Dr. Ada Lind", UNCHANGED, 20, WORTH_IT, NOW)
    listed = run("list").stdout
    assert "Dr. Ada Lind" in listed
    assert "11 → 17 of 20" in listed
    assert run("remove", "Dr. Ada Lind").exit_code == 0
    assert kept_voices() == ()


def test_a_voice_read_from_a_folder_is_kept_where_it_helps(tmp_path: Path):
    voices = pytest.importorskip("audio_fixtures.voices")
    if "espeak_en_gb" not in voices.voices_here():
        pytest.skip("espeak-ng is not installed")
    for phrase in enrolment_phrases(spoken_languages()):
        said = voices.say("espeak_en_gb", phrase.text)
        soundfile.write(tmp_path / f"{phrase.number}.wav", said, SAMPLE_RATE)
    done = run("enrol", "Robot", "--from", str(tmp_path))
    if done.exit_code == 0:
        assert helps(kept_voices()[0].gain)
        assert find_voice("Robot").mllr is not None
    else:
        assert isinstance(done.exception, EnrolmentError)
        assert kept_voices() == ()
    assert not [
        name for _, _, files in os.walk(tmp_path / "data") for name in files if "wav" in name
    ]


# Charting with it


@pytest.fixture
def chart_with_voice(monkeypatch: pytest.MonkeyPatch):
    """Open a case on a screen that is never shown; return the run and the voice of the engine."""
    voices: list[Path | None] = []

    def maker(choice, languages, mllr=None):
        voices.append(mllr)
        return lambda: None

    monkeypatch.setattr("dictate.listening.engines.recogniser_maker", maker)
    monkeypatch.setattr("dictate.screen.app.ChartingApp.run", lambda self: None)

    def chart(*arguments: str):
        return CliRunner().invoke(app, ["chart", *arguments]), voices[-1]

    return chart


def test_a_case_is_charted_with_the_voice_of_its_clinician(chart_with_voice):
    keep_voice("Dr. Ada Lind", UNCHANGED, 20, WORTH_IT, NOW)
    done, voice = chart_with_voice("--clinician", "Dr. Ada Lind")
    assert (done.exit_code, voice) == (0, find_voice("Dr. Ada Lind").mllr)
    assert "Listening with the voice of Dr. Ada Lind." in done.stdout
    case = done.stdout.split("Case ")[1].split()[0]
    assert chart_with_voice(case)[1] == voice


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("--clinician", "Dr. Bo"),
        ("--clinician", "Ada", "--no-listen"),
        ("--clinician", "Ada", "--engine", "vosk"),
    ],
)
def test_without_a_voice_that_can_be_used_none_is_spoken_of(chart_with_voice, arguments):
    keep_voice("Ada", UNCHANGED, 20, WORTH_IT, NOW)
    done, voice = chart_with_voice(*arguments)
    assert (done.exit_code, voice) == (0, None)
    assert "voice of" not in done.output


def test_a_damaged_voice_is_told_in_a_sentence_and_charting_goes_on(chart_with_voice):
    keep_voice("Ada", UNCHANGED, 20, WORTH_IT, NOW)
    mllr = find_voice("Ada").mllr
    assert mllr is not None
    mllr.write_text("1 3 13")
    done, voice = chart_with_voice("--clinician", "Ada")
    assert (done.exit_code, voice) == (0, None)
    assert done.stderr.count("\n") == 1 and "The kept voice is damaged" in done.stderr


def test_a_voice_made_before_noise_was_turned_down_otherwise_is_not_used(monkeypatch):
    keep_voice("Ada", UNCHANGED, 20, WORTH_IT, NOW)
    monkeypatch.setattr("dictate.enrolment.voice.Suppression", lambda: "another")
    found = find_voice("Ada")
    assert found.mllr is None
    assert found.problem is not None and "another engine" in found.problem
