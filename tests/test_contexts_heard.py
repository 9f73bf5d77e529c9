"""The embedded engine in the parts of a visit, by synthetic voices of this machine."""

from datetime import UTC, datetime

import pytest

from audio_fixtures.voices import voices_here
from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import NOTE
from dictate.speech.sphinx import SphinxRecogniser
from tests.benchmarks.visit_language import spoken

VOICE = "flite_rms"
pytestmark = pytest.mark.skipif(
    VOICE not in voices_here(), reason="flite is not installed: no voice to speak"
)


@pytest.fixture(scope="module")
def engine() -> SphinxRecogniser:
    return SphinxRecogniser(spoken_languages())


def session(**others) -> Session:
    case = Case(id="mirre", species="dog", opened=datetime(2026, 5, 4, tzinfo=UTC))
    return Session(case, spoken_languages(), **others)


def say(one: Session, engine: SphinxRecogniser, *texts: str) -> list[str]:
    outcomes = []
    for text in texts:
        engine.attend(one.listening_for)
        samples = spoken(VOICE, text)
        audio = UtteranceAudio(samples, 0.0, len(samples) / 16_000)
        outcomes.append(one.hear(engine.finish(samples), audio).outcome)
    return outcomes


def test_each_part_of_a_visit_is_heard_after_going_to_it(engine):
    one = session()
    outcomes = say(
        one,
        engine,
        "go to awake examination",
        "left lymph node enlarged",
        "go to radiographs",
        "two oh eight, periapical lucency",
        "go to treatment",
        "surgical extraction",
    )
    assert outcomes == ["charted"] * 6
    assert [each.words() for each in one.chart.observations] == [
        "left mandibular lymph node enlarged"
    ]
    assert [each.kind for each in one.chart.findings] == ["periapical_lucency", "extracted"]


def test_what_belongs_to_another_part_is_not_charted(engine):
    one = session()
    say(one, engine, "left lymph node enlarged", "right infraorbital block")
    assert one.chart.observations == ()
    assert one.chart.findings == ()
    assert say(one, engine, "two oh eight calculus two") == ["charted"]


def test_a_note_is_kept_with_its_sound_and_never_as_a_finding(engine):
    kept = []

    def keep(samples, number):
        kept.append(len(samples))
        return f"mirre-{number}.flac"

    one = session(keep_clip=keep)
    say(one, engine, "two oh eight calculus two", "take a note")
    assert one.listening_for == NOTE
    say(one, engine, "two oh nine missing, look at it again in spring")
    (note,) = one.chart.notes
    assert (note.tooth, note.verified, note.clip) == (208, False, "mirre-5.flac")
    assert note.text
    assert kept and kept[0] > 16_000
    assert [each.tooth for each in one.chart.findings] == [208]
    assert one.listening_for == "charting"


@pytest.mark.parametrize("percent", ["thirty", "thirteen", "sixty", "sixteen"])
def test_sixteen_is_never_charted_as_sixty(engine, percent):
    understood = 0
    value = {"thirty": 30, "thirteen": 13, "sixty": 60, "sixteen": 16}[percent]
    for voice in voices_here():
        one = session()
        one.type_text("go to radiographs")
        engine.attend("radiographs")
        heard = engine.finish(spoken(voice, f"two oh eight horizontal bone loss {percent} percent"))
        outcome = one.hear(heard).outcome
        charted = [each.value for each in one.chart.findings]
        assert charted in ([], [value]), f"{voice} said {percent}, {charted} was charted"
        understood += outcome != "refused"
    assert understood >= len(voices_here()) / 2


def test_a_spoken_agent_is_read_back_before_it_is_kept(engine):
    one = session()
    one.type_text("go to treatment")
    outcome = say(one, engine, "left mental block lidocaine one point five milliliters")
    assert outcome == ["query"]
    assert one.chart.observations == ()
    one.type_text("yes")
    (block,) = one.chart.observations
    assert (block.agent, block.volume_ml) == ("lidocaine", 1.5)
