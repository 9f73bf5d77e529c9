import json
import os
import stat
import subprocess
import sys
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from dictate.cases.stored import case_store, stored_session
from dictate.chart.case import Case
from dictate.chart.events import CONTEXTS
from dictate.commands.replay import _findings_table, _heard_table, _observations_table
from dictate.commands.what_works import ENGLISH_MODEL
from dictate.grammar.spoken import spoken_languages
from dictate.phrases.reading import read_typed
from dictate.session.session import Session, now_utc
from dictate.session.statement_data import as_data
from dictate.session.statement_words import statement_in_words
from dictate.speech.audio import UtteranceAudio
from dictate.speech.model import KNOWN_MODELS
from dictate.speech.recogniser import Hypothesis

ROOT = Path(__file__).resolve().parent.parent
FIXTURES = ROOT / "audio_fixtures"
MANIFEST = json.loads((FIXTURES / "manifest.json").read_text(encoding="utf-8"))


def dictate(*arguments: str, data: Path | None = None) -> subprocess.CompletedProcess:
    environment = {**os.environ, "DICTATE_DATA": str(data or "/nowhere")}
    return subprocess.run(
        [sys.executable, "-m", "dictate", *arguments],
        capture_output=True,
        text=True,
        env=environment,
        cwd=ROOT,
        check=False,
        stdin=subprocess.DEVNULL,
    )


def fixture(group: str, **wanted: str) -> Path:
    for row in MANIFEST[group]:
        if all(row[key] == value for key, value in wanted.items()):
            return FIXTURES / row["file"]
    raise LookupError(wanted)


def assert_one_sentence(run: subprocess.CompletedProcess) -> None:
    assert run.returncode != 0
    assert run.stderr.count("\n") == 1, run.stderr
    assert "Traceback" not in run.stderr


def test_parse_prints_statements_as_json():
    run = dictate("parse", "208 calculus 2 pocket 5 mesial", "--json")
    assert run.returncode == 0
    assert json.loads(run.stdout)["statements"] == [
        {"statement": "tooth", "tooth": 208},
        {
            "statement": "finding",
            "finding": {
                "tooth": 208,
                "kind": "calculus",
                "value": 2,
                "unit": None,
                "site": None,
            },
        },
        {
            "statement": "finding",
            "finding": {
                "tooth": 208,
                "kind": "pocket",
                "value": 5,
                "unit": "mm",
                "site": "mesial",
            },
        },
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("208 pocket 5 mesial", ["tooth 208", "208 pocket 5 mm mesial"]),
        ("left lymph node enlarged", ["left mandibular lymph node enlarged"]),
        ("201 to 203 scaled", ["teeth 201 to 203", "scaled"]),
        ("all upper incisors polished", ["all upper incisors", "polished"]),
        ("rest of the upper left normal", ["the rest of the upper left teeth", "normal"]),
        ("go to radiographs", ["go to: radiographs"]),
        ("head examination normal", ["head: all that was not stated is normal"]),
        ("mixed dentition", ["mixed dentition"]),
        (
            "left infraorbital block lidocaine 0.5 milliliters",
            ["left regional block infraorbital lidocaine 0.5 mL"],
        ),
    ],
)
def test_statements_are_put_in_words(text, words):
    statements = read_typed(tuple(map(spoken_languages().__getitem__, CONTEXTS)), text).statements
    assert [statement_in_words(as_data(each)) for each in statements] == words


def test_parse_prints_words_for_people():
    assert dictate("parse", "left lymph node enlarged").stdout == (
        "left mandibular lymph node enlarged\n"
    )


def test_replay_prints_findings_and_observations_for_people():
    session = Session(Case(id="replay", species="dog", opened=now_utc()), spoken_languages())
    session.type_text("208 caries")
    session.type_text("head examination normal")
    session.type_text("left tonsil enlarged")
    printed = _printed(
        _heard_table(session), _findings_table(session), _observations_table(session)
    )
    assert "208 caries" in printed
    assert "left tonsil enlarged" in printed
    assert "left ear normal (covered by “normal”)" in printed


def _printed(*tables):
    console = Console(file=StringIO(), width=200)
    console.print(*tables)
    return console.file.getvalue()


@pytest.mark.parametrize("text", ["hello there", "", "208 209 calculus 1"])
def test_parse_of_nothing_understood_exits_with_1_and_one_sentence(text):
    run = dictate("parse", text, "--json")
    assert run.returncode == 1
    assert run.stdout == ""
    assert_one_sentence(run)


@pytest.mark.parametrize(
    "arguments",
    [
        ("parse", "208 calculus 1", "--species", "horse"),
        ("parse", "208 calculus 1", "--index-scale", "7"),
        ("replay", "nowhere.wav"),
        ("replay", "README.md"),
        ("replay", "README.md", "--engine", "gramophone"),
        ("replay", "README.md", "--engine", "vosk"),
    ],
)
def test_bad_input_gets_one_sentence(arguments):
    assert_one_sentence(dictate(*arguments))


def test_replay_prints_one_json_object_and_nothing_else():
    sentence = fixture("sentences", id="dog_pocket_mesial", voice="flite_slt")
    chatter = FIXTURES / MANIFEST["chatter"][0]["file"]
    silence = fixture("noise", id="silence")
    run = dictate("replay", *map(str, (sentence, chatter, silence)), "--json")
    assert run.returncode == 0, run.stderr
    result = json.loads(run.stdout)
    assert set(result) == {"utterances", "findings", "observations", "timing"}
    assert set(result["timing"]) == {"audio_s", "cpu_s"}
    assert [row["outcome"] for row in result["utterances"]] == ["charted", "refused", "refused"]
    assert {row["file"] for row in result["utterances"]} == {
        str(sentence),
        str(chatter),
        str(silence),
    }
    assert set(result["utterances"][0]) == {
        "file",
        "start_s",
        "end_s",
        "text",
        "outcome",
        "score",
        "reason",
        "statements",
    }
    assert result["findings"] == [
        {"tooth": 208, "kind": "pocket", "value": 5, "unit": "mm", "site": "mesial"}
    ]


def test_files_are_one_session_in_order():
    sentence = fixture("sentences", id="dog_pocket_mesial", voice="flite_slt")
    undo = fixture("commands", id="undo", voice="flite_slt")
    run = dictate("replay", str(sentence), str(undo), "--json")
    assert json.loads(run.stdout)["findings"] == []


def test_the_headless_demo_prints_a_summary_and_writes_the_reports(tmp_path):
    run = dictate("demo", "--headless", "--out", str(tmp_path / "out"))
    assert run.returncode == 0, run.stderr
    assert "Bramble" in run.stdout
    assert "42 of 42 teeth charted" in " ".join(run.stdout.split())
    written = {path.name for path in (tmp_path / "out").iterdir()}
    tables = {"findings.csv", "observations.csv"}
    assert written == tables | {"record.json", "record.html", "record.pdf"}
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o700


def test_a_case_is_listed_and_reported(tmp_path):
    from dictate.store.cases import CaseStore

    store = CaseStore(tmp_path / "cases.sqlite")
    case = Case(id="brindle", species="dog", opened=now_utc(), animal="Brindle")
    store.add_case(case)
    Session(case, spoken_languages(), save=lambda new: store.append("brindle", new)).type_text(
        "208 calculus 2"
    )
    assert "brindle" in dictate("cases", data=tmp_path).stdout
    run = dictate("report", "brindle", "--out", str(tmp_path / "out"), data=tmp_path)
    assert run.returncode == 0, run.stderr
    record = json.loads((tmp_path / "out" / "record.json").read_text())
    assert record["findings"][0]["tooth"] == 208


def test_a_report_of_no_case_is_one_sentence(tmp_path):
    assert_one_sentence(dictate("report", "nobody", data=tmp_path))


def test_check_says_what_works_here(tmp_path):
    run = dictate("check", data=tmp_path)
    assert run.returncode == 0, run.stdout + run.stderr
    for what in ("data folder", "cases", "grammar", "own words", "engine sphinx", "engine vosk"):
        assert what in run.stdout
    assert "microphone" in run.stdout


def test_check_lists_words_that_sound_alike_and_whether_they_are_listed(tmp_path):
    run = dictate("check", data=tmp_path)
    lines = {line.split(":")[0].strip(): line for line in run.stdout.splitlines()}
    assert "pairs may stand for one another" in lines["✓ words that sound alike"]
    assert ", listed;" in lines["sixteen / sixty"]
    assert any(", not listed;" in line for line in lines.values())


def test_check_names_the_model_that_can_be_fetched(tmp_path):
    run = dictate("check", data=tmp_path)
    assert f"“dictate model get {KNOWN_MODELS[0].name}”" in run.stdout
    assert [model.name for model in KNOWN_MODELS] == [ENGLISH_MODEL]


def test_a_stored_session_keeps_the_sound_of_a_note(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    case = Case(id="brindle", species="dog", opened=now_utc())
    store = case_store()
    store.add_case(case)
    session = stored_session(store, case)
    session.type_text("take a note")
    audio = UtteranceAudio(np.zeros(1600, dtype=np.int16), 0.0, 0.1)
    session.hear(Hypothesis("any words", score=0.5, trust="doubtful", engine="sphinx"), audio)
    (note,) = stored_session(store, *store.load("brindle")).chart.notes
    assert (tmp_path / "clips" / note.clip).is_file()
