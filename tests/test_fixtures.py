"""The audio fixtures are whole, and their texts agree with the grammar and the tables."""

import ast
import json
from pathlib import Path

import pytest
import soundfile

from dictate.chart.anatomy import anatomy_of, is_upper
from dictate.chart.kinds import finding_kinds
from dictate.grammar.forms import own_tags
from dictate.grammar.spoken import charting_language, spoken_languages
from dictate.phrases.reading import read_utterance
from dictate.phrases.statements import Command

FIXTURES = Path(__file__).resolve().parent.parent / "audio_fixtures"
MANIFEST = json.loads((FIXTURES / "manifest.json").read_text(encoding="utf-8"))
ENTRIES = [entry for entries in MANIFEST.values() for entry in entries]
SENTENCES = list({entry["id"]: entry for entry in MANIFEST["sentences"]}.values())
DICTATIONS = {entry["species"]: entry for entry in MANIFEST["dictations"]}
VISITS = MANIFEST["visits"]
CHARTED = [*SENTENCES, *DICTATIONS.values()]
SPOKEN = [
    *(entry["text"] for entry in SENTENCES + MANIFEST["commands"]),
    *(
        utterance["text"]
        for dictation in DICTATIONS.values()
        for utterance in dictation["utterances"]
        if not utterance["chatter"]
    ),
]

MEGABYTE = 1_000_000


def is_allowed(text: str) -> bool:
    automaton = charting_language().automaton
    states = {automaton.start}
    for word in text.split():
        states = {step[-1] for state in states for step in automaton.steps(state).get(word, ())}
    return any(automaton.endings(state) for state in states)


def findings_of(entry: dict) -> list[dict]:
    return entry["chart"] if "chart" in entry else entry["findings"]


def seconds(entry: dict) -> float:
    return soundfile.info(FIXTURES / entry["file"]).duration


def test_every_file_of_the_manifest_is_there_at_16_khz_mono():
    for entry in ENTRIES:
        info = soundfile.info(FIXTURES / entry["file"])
        form = (info.format, info.samplerate, info.channels, info.subtype)
        assert form == ("FLAC", 16_000, 1, "PCM_16"), entry["file"]


def test_every_file_is_in_the_manifest():
    made = {entry["file"] for entry in ENTRIES}
    found = {path.relative_to(FIXTURES).as_posix() for path in FIXTURES.rglob("*.flac")}
    assert {file for file in found - made if not file.startswith("korean_digits/")} == set()


def test_the_audio_stays_small():
    assert sum(path.stat().st_size for path in FIXTURES.rglob("*.flac")) < 14 * MEGABYTE


@pytest.mark.parametrize("text", SPOKEN)
def test_the_grammar_allows(text):
    assert is_allowed(text)


def test_there_are_sixty_sentences_and_thirty_clips_of_chatter():
    assert len(SENTENCES) >= 60
    assert len(MANIFEST["chatter"]) >= 30


def test_the_sentences_cover_every_kind_of_finding_that_is_spoken_while_charting():
    said = {finding["kind"] for entry in SENTENCES for finding in entry["findings"]}
    assert said == charting_kinds() & kinds_spoken_in("charting")


def test_the_visits_cover_the_kinds_that_are_spoken_awake_only():
    """Teeth out of place are seen while the animal can close its mouth: common practice."""
    awake_only = (charting_kinds() & kinds_spoken_in("awake")) - kinds_spoken_in("charting")
    assert awake_only == {"malposition"}
    found = {finding["kind"] for entry in VISITS for finding in expected_of(entry)["findings"]}
    assert awake_only <= found


def charting_kinds() -> set[str]:
    return {kind for kind, row in finding_kinds().items() if row.section == "charting"}


def kinds_spoken_in(context: str) -> set[str]:
    """The kinds that the grammar of a part of the visit can state."""
    rules = spoken_languages()[context].reached_rules
    tags = {tag for rule in rules for tag in own_tags(rule.expression)}
    return {tag.partition("=")[2] for tag in tags if tag.startswith("kind=")}


def expected_of(entry: dict) -> dict:
    path = FIXTURES / entry["id"] / "expected.json"
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("entry", CHARTED, ids=lambda entry: entry["file"])
def test_the_findings_are_in_the_table(entry):
    for finding in findings_of(entry):
        row = finding_kinds()[finding["kind"]]
        assert finding["unit"] == row.unit
        assert finding["site"] is None or row.sited
        match row.value:
            case "none":
                assert finding["value"] is None
            case "term":
                assert str(finding["value"]) in row.terms
            case _:
                assert row.least <= finding["value"] <= row.top(index_scale=3)


@pytest.mark.parametrize("entry", CHARTED, ids=lambda entry: entry["file"])
def test_the_teeth_are_in_the_species(entry):
    anatomy = anatomy_of(entry["species"])
    for finding in findings_of(entry):
        assert anatomy.has(finding["tooth"])
        assert max(anatomy.root_counts(finding["tooth"])) >= finding_kinds()[finding["kind"]].roots
        if (finding["site"] or "").endswith(("palatal", "lingual")):
            assert finding["site"].endswith("palatal") == is_upper(finding["tooth"])


@pytest.mark.parametrize("entry", MANIFEST["chatter"], ids=lambda entry: entry["id"])
def test_chatter_lasts_2_to_8_seconds_and_charts_nothing(entry):
    assert 2 <= seconds(entry) <= 8
    assert entry["findings"] == []


def test_no_chatter_is_a_charting_sentence():
    assert not any(is_allowed(plain(entry["text"])) for entry in MANIFEST["chatter"])


def plain(text: str) -> str:
    return "".join(letter for letter in text.lower() if letter.isalpha() or letter in " '")


@pytest.mark.parametrize(("species", "shortest", "longest"), [("dog", 4, 7), ("cat", 2, 3)])
def test_a_dictation_charts_the_whole_mouth(species, shortest, longest):
    dictation = DICTATIONS[species]
    charted = {finding["tooth"] for finding in dictation["chart"]}
    assert charted == set(anatomy_of(species).permanent_teeth)
    assert shortest <= seconds(dictation) / 60 <= longest


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_a_dictation_goes_along_the_arch(species):
    teeth = [finding["tooth"] for finding in DICTATIONS[species]["chart"]]
    assert list(dict.fromkeys(teeth)) == list(anatomy_of(species).permanent_teeth)


def test_the_dog_s_mouth_has_a_correction_an_undo_and_two_pieces_of_chatter():
    utterances = DICTATIONS["dog"]["utterances"]
    commands = [utterance["command"] for utterance in utterances if utterance["command"]]
    assert sorted(commands) == ["correction", "undo"]
    assert sum(utterance["chatter"] for utterance in utterances) == 2


@pytest.mark.parametrize("entry", VISITS, ids=lambda entry: entry["id"])
def test_every_utterance_of_a_visit_can_be_said_where_it_is_said(entry):
    language = charting_language()
    for row in entry["utterances"]:
        words = plain(row["text"])
        assert language.allows(words.split()) != row["chatter"], row["text"]
        for statement in read_utterance(language, words).statements:
            if isinstance(statement, Command) and statement.command == "context":
                language = spoken_languages()[statement.about]


@pytest.mark.parametrize("entry", VISITS, ids=lambda entry: entry["id"])
def test_a_visit_has_60_to_90_utterances_and_two_pieces_of_chatter(entry):
    assert 60 <= len(entry["utterances"]) <= 90
    assert sum(row["chatter"] for row in entry["utterances"]) == 2


def test_make_says_what_it_makes_and_what_it_needs():
    text = (FIXTURES / "make.py").read_text(encoding="utf-8")
    said = ast.get_docstring(ast.parse(text)) or ""
    assert all(program in said for program in ("flite", "festival", "espeak-ng"))
