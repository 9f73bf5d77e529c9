"""`dictate verify`, on cases in the store and on exported records."""

import json
import sqlite3

import pytest
from typer.testing import CliRunner

from dictate import cli
from dictate.cases.stored import case_store, stored_session
from dictate.chart.case import Case
from dictate.errors import DictateError
from dictate.integrity.seal import KEY_FILE, fingerprint, own_key
from dictate.report.record import record_of, write_json
from tests.screen_pilot import OPENED

CASE = Case(id="mila-1", species="dog", opened=OPENED, animal="Mila", clinician="Dr. Ada Lind")


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def charted(*phrases):
    store = case_store()
    store.add_case(CASE)
    session = stored_session(store, CASE)
    for phrase in ("208 calculus 2 pocket 5 mesial", "209 missing", *phrases):
        session.type_text(phrase)
    return session


def verify(what):
    return CliRunner().invoke(cli.app, ["verify", str(what)])


def change(data, statement):
    with sqlite3.connect(data / "cases.sqlite") as db:
        db.execute(statement)


def test_a_case_as_it_was_charted_is_said_to_be(data):
    session = charted("close the chart", "yes", "open the chart again", "309 calculus 1")
    result = verify("mila-1")
    assert result.exit_code == 0, result.output
    key = fingerprint(own_key(data))
    assert f"mila-1: {len(session.events)} events, none changed" in result.output
    assert f"key {key} (this station's own)." in result.output
    after = len(session.events) - next(
        each.sequence for each in session.events if each.what.event == "closed"
    )
    assert f"{after} events came after the last seal." in result.output
    record = record_of(CASE, session.events)
    assert f"Content hash {record.content_hash}" in result.output


@pytest.mark.parametrize(
    "statement, told",
    [
        ("update events set document = replace(document, ':5,', ':3,') where sequence = 4",
         "event 4 (charted"),
        ("update events set document = replace(document, 'calculus 2', 'calculus 1') "
         "where sequence = 1", "event 1 (heard “208 calculus 1"),
        ("delete from events where sequence = 3", "event 3 is missing"),
        ("update cases set document = replace(document, 'Mila', 'Nala')", "what it states of the"),
        ("delete from events where sequence > 2", "events are missing"),
        ("update events set hash = replace(hash, substr(hash, 1, 4), 'ffff') where sequence = 5",
         "event 5"),
    ],
)  # fmt: skip
def test_what_was_altered_in_the_store_is_named(data, statement, told):
    charted()
    change(data, statement)
    result = verify("mila-1")
    assert result.exit_code == 1
    assert told in result.output


def test_a_forged_chain_is_betrayed_by_the_seal(data):
    """Whoever can write the file can work out new hashes; the key is what they lack."""
    charted("close the chart", "yes")
    change(data, "update events set document = replace(document, 'calculus 2', 'calculus 1')")
    change(data, "update events set hash = null")
    result = verify("mila-1")
    assert result.exit_code == 1
    assert "is not what was sealed" in result.output


def test_a_seal_of_another_station_is_told_from_ones_own(data):
    charted("close the chart", "yes")
    (data / KEY_FILE).unlink()
    assert "(of another station)" in verify("mila-1").output


def test_events_without_hashes_are_counted(data):
    charted()
    change(data, "update events set hash = null where sequence < 3")
    result = verify("mila-1")
    assert result.exit_code == 0
    assert "For 2 of them no hash was kept" in result.output


def test_what_the_rules_forbid_is_named_where_no_hash_was_kept(data):
    charted()
    change(data, "update events set hash = null")
    change(data, "update events set document = replace(document, '209', '205')")
    change(data, "update events set document = replace(document, ':208', ':299')")
    result = verify("mila-1")
    assert result.exit_code == 1
    assert "mila-1 was altered: event 2 cannot be true" in result.output


def test_a_record_is_checked_and_its_trouble_named(tmp_path):
    session = charted("close the chart", "yes")
    path = tmp_path / "record.json"
    write_json(record_of(CASE, session.events), path)
    assert "Sealed by Dr. Ada Lind" in verify(path).output
    data = json.loads(path.read_text())
    data["events"][0]["what"]["text"] = "208 calculus 1"
    path.write_text(json.dumps(data))
    result = verify(path)
    assert result.exit_code == 1
    assert "event 1 (heard “208 calculus 1" in result.output


def test_other_files_are_compared_by_the_hash_on_them(tmp_path):
    path = tmp_path / "record.pdf"
    path.write_bytes(b"%PDF")
    result = verify(path)
    assert isinstance(result.exception, DictateError)
    assert "compare the content hash printed on it" in str(result.exception)


@pytest.mark.parametrize("what, told", [("nobody", "no case nobody"), ("no.json", "no file")])
def test_what_is_not_there_is_said(what, told):
    result = verify(what)
    assert isinstance(result.exception, DictateError)
    assert told in str(result.exception)
