"""Text of a case that means to be more than text, and names that mean to lead elsewhere."""

import csv
import json
import sys
import unicodedata

import pytest

from dictate import cli
from dictate.cases.stored import case_store, clip_store, stored_session
from dictate.chart.case import Case
from dictate.chart.events import Event, Heard, Noted
from dictate.errors import DictateError
from dictate.report.record import read_json, record_of, write_json
from dictate.report.record_events import check_events
from dictate.report.table import table_text
from dictate.terminal import say, say_json
from tests.screen_pilot import LARGE, app_of, enter, screen_of
from tests.whole_case import CASE, OPENED, keep_visits

ESCAPES = "\x1b[31m\x1b]0;x\x07\x9b2J\u202e\u200b\u2028"
"""Colour, the title of the window, a bell, clearing by a C1 control, and what turns or hides."""
HOSTILE = f'=1+1;=2+2 </td><script>alert(1)</script>"; #read("/etc/passwd") {{{{7*7}}}} {ESCAPES}'
LEADING_AWAY = (
    *("../../x.flac", "/tmp/x.flac", "..", "", "a/b.flac", "a\\b.flac", "C:x.flac", "x\x00.flac"),
    *("record.json", "x.flac\n", "..flac", "-x.flac", "\u202ex.flac"),
)


def unseen(text):
    """The characters of a text that are more than they look, line breaks excepted."""
    hidden = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    return [each for each in text if each != "\n" and unicodedata.category(each) in hidden]


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Two visits in a data folder, of which every text is hostile."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    session = keep_visits(clinician=HOSTILE, animal=HOSTILE)
    store = case_store()
    again = stored_session(store, *store.load(session.case.id))
    again.type_text("open the chart again")
    again.type_text("yes")
    again.type_text(f"note: {HOSTILE}")
    again.type_text(HOSTILE)
    assert any(each.text.startswith("=1+1") for each in again.chart.notes)
    return tmp_path


def run(capsys, *arguments):
    """Run a command and return what it printed, on stdout and on stderr."""
    sys.argv = ["dictate", *arguments]
    with pytest.raises(SystemExit):
        cli.main()
    return capsys.readouterr()


@pytest.mark.parametrize(
    "arguments",
    [
        ("cases",),
        ("cases", HOSTILE),
        ("compare", CASE),
        ("assess", CASE),
        ("report", CASE, "--out", "out\x1b[31m"),
        ("report", HOSTILE),
        ("assess", HOSTILE),
        ("chart", HOSTILE),
        ("chart", "--from", HOSTILE),
        ("chart", "--animal", HOSTILE),
        ("chart", "--clinician", HOSTILE),
        ("parse", HOSTILE),
        ("parse", f"note: {HOSTILE}"),
        ("decide", CASE, HOSTILE, HOSTILE, "accept"),
        ("drawing", CASE, "--out", f"{ESCAPES}.gif"),
        ("letter", CASE, "--to", HOSTILE, "--out", "letter"),
        ("voice", "remove", HOSTILE),
        ("formulary", "check", f"{ESCAPES}.toml"),
        ("model", "get", HOSTILE),
    ],
)
def test_no_command_of_a_terminal_is_printed(data, capsys, arguments):
    printed = run(capsys, *arguments)
    assert printed.out or printed.err
    # Rich pads its tables and marks nothing where there is no terminal.
    assert unseen(printed.out) == []
    assert unseen(printed.err) == []


@pytest.mark.parametrize("arguments", [("cases", "--json"), ("compare", CASE, "--json")])
def test_json_on_a_terminal_is_the_same_data_with_nothing_unseen(data, capsys, arguments):
    printed = run(capsys, *arguments).out
    assert unseen(printed) == []
    found = json.loads(printed)
    assert (found["cases"][0] if "cases" in found else found["later"])["animal"] == HOSTILE


def test_what_is_said_keeps_its_lines(capsys):
    say("one\ntwo\x1b[2J")
    say_json({"a": "ä\u202e\U000e0001"})
    assert capsys.readouterr().out == ('one\ntwo␛[2J\n{"a": "ä\\u202e\\udb40\\udc01"}\n')


def test_a_microphone_with_a_hostile_name_is_only_named(data, capsys, monkeypatch):
    monkeypatch.setattr("dictate.commands.what_works.input_devices", lambda: [ESCAPES])
    assert unseen(run(capsys, "check").out) == []


def test_files_hold_it_as_text(data, capsys):
    for arguments in (
        ("report", CASE, "--out", "out"),
        ("letter", CASE, "--to", HOSTILE, "--why", HOSTILE, "--out", "out"),
        ("letter", CASE, "--to", HOSTILE, "--why", HOSTILE, "--draft", "out/letter.md"),
        ("sheet", CASE, "--next", HOSTILE, "--out", "out"),
        ("drawing", CASE, "--out", "out/mouth.svg"),
    ):
        assert run(capsys, *arguments).err == ""
    written = {path.suffix for path in (data / "out").iterdir()}
    assert written >= {".json", ".csv", ".html", ".pdf", ".md", ".svg"}
    for path in (data / "out").iterdir():
        if path.suffix in (".json", ".csv", ".html", ".md", ".svg"):
            text = path.read_bytes().decode().replace("\r\n", "\n")
            assert unseen(text) == [], path.name
            if path.suffix in (".html", ".svg"):
                assert "<script" not in text, path.name


def test_no_cell_is_a_formula_whatever_separates_cells(data, capsys):
    run(capsys, "report", CASE, "--out", "out")
    text = (data / "out" / "findings.csv").read_text(encoding="utf-8")
    for separator in (",", ";", "|", "\t"):
        for row in csv.reader(text.splitlines(), delimiter=separator):
            for cell in row:
                assert not cell.lstrip().startswith(("=", "+", "@")), (separator, cell)


@pytest.mark.parametrize("text", ["a;=1", "a; =1", "a;;@x", "a|+1", ";-1+1", "a;＝1"])
def test_a_formula_after_another_separator_is_text(text):
    _, row, *_ = table_text(["a"], [[text]]).split("\r\n")
    assert "'" in row
    assert row.replace("'", "") == text


@pytest.mark.parametrize("text", ["calm; eats well", "208; 209", "a-b", "1 + 1"])
def test_ordinary_text_stays_as_it_is(text):
    assert table_text(["a"], [[text]]).split("\r\n")[1] == text


async def test_no_command_of_a_terminal_is_on_the_screen(data):
    store = case_store()
    session = stored_session(store, *store.load(CASE))
    app = app_of(session)
    seen = []
    async with app.run_test(size=LARGE) as pilot:
        for phrase in ("208", "show findings", "show changes", "show doubts", "show plan", "help"):
            await enter(pilot, phrase)
            seen.append(screen_of(app))
            await pilot.press("escape")
    assert len(set(seen)) >= 5
    assert any("␛[31m" in each for each in seen)
    assert [line for each in seen for line in each.split("\n") if unseen(line)] == []


# Names that mean to lead elsewhere


def forged(clip):
    case = Case(id="odo-2", species="dog", opened=OPENED)
    happenings = (Heard(text="a note", outcome="charted"), Noted(text="a note", clip=clip))
    return case, [
        Event(sequence=number, utterance=1, time=OPENED, what=what)
        for number, what in enumerate(happenings, start=1)
    ]


@pytest.mark.parametrize("clip", LEADING_AWAY)
def test_a_record_whose_clip_leads_elsewhere_is_refused(tmp_path, clip):
    path = tmp_path / "record.json"
    write_json(record_of(*forged(clip)), path)
    with pytest.raises(DictateError, match="no sound of a note of this case") as caught:
        read_json(path)
    assert unseen(str(caught.value)) == []


def test_a_record_with_a_sound_of_another_case_is_refused(tmp_path):
    write_json(record_of(*forged("odo-3-7.flac")), tmp_path / "record.json")
    with pytest.raises(DictateError, match=r"odo-3-7\.flac' is no sound of a note of this case"):
        read_json(tmp_path / "record.json")


def test_a_record_with_a_clip_of_its_own_is_read(tmp_path):
    write_json(record_of(*forged("odo-2-7.flac")), tmp_path / "record.json")
    assert read_json(tmp_path / "record.json").notes[0].clip == "odo-2-7.flac"


@pytest.mark.parametrize("clip", LEADING_AWAY)
def test_a_clip_that_leads_elsewhere_is_neither_read_nor_written(tmp_path, monkeypatch, clip):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    (tmp_path / "x.flac").write_text("of somebody else")
    (tmp_path / "out").mkdir()
    with pytest.raises(DictateError):
        check_events(*forged(clip))
    try:
        copied = clip_store().copy([clip], tmp_path / "out")
    except DictateError:
        copied = []
    assert copied == []
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize("name", ["../x", "/tmp/x", "a/b", "..", "", "A", "x\n", "a" * 65])
def test_no_case_has_an_id_that_leads_elsewhere(name):
    with pytest.raises(ValueError, match="pattern"):
        Case(id=name, species="dog", opened=OPENED)


def test_a_name_of_an_animal_is_in_no_name_of_a_file(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    keep_visits(animal="../../Odo", clinician="../../Lind")
    for arguments in (
        ("report", CASE, "--out", str(tmp_path / "out")),
        ("sheet", CASE, "--out", str(tmp_path / "out")),
    ):
        assert run(capsys, *arguments).err == ""
    assert {path.name for path in tmp_path.iterdir()} == {"data", "out"}
    assert not [path for path in tmp_path.rglob("*") if "Odo" in path.name or "Lind" in path.name]


def test_a_report_goes_where_the_person_said_dots_and_all(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    keep_visits()
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    assert run(capsys, "report", CASE, "--out", "../beside").err == ""
    assert (tmp_path / "beside" / "record.json").is_file()
    assert list((tmp_path / "work").iterdir()) == []
