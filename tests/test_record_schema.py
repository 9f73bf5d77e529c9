"""Exported records are what docs/record.schema.json says (JSON Schema, draft 2020-12)."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker

from audio_fixtures.expected import typed
from audio_fixtures.texts import VISITS
from audio_fixtures.texts import visit as whole_visit
from dictate.report.record import read_json, record_of, write_json
from tests.fhir_visits import SAID, closed_record, record, session_of
from tests.test_record_versions import STEPS, VERSION_1

SCHEMA = json.loads(
    (Path(__file__).resolve().parent.parent / "docs" / "record.schema.json").read_text("utf-8")
)


@pytest.fixture(scope="module")
def validator():
    Draft202012Validator.check_schema(SCHEMA)
    return Draft202012Validator(SCHEMA, format_checker=FormatChecker())


def exported(of, folder):
    write_json(of, folder / "record.json")
    return json.loads((folder / "record.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", VISITS)
def test_a_whole_visit_is_as_the_schema_says(validator, tmp_path, name):
    session = typed(whole_visit(name))
    validator.validate(exported(record_of(session.case, session.events), tmp_path))


def test_a_closed_and_sealed_chart_is_as_the_schema_says(validator, tmp_path):
    after = ("open the chart again", "yes", "208 mobility 2", "close the chart", "yes")
    validator.validate(exported(closed_record(tmp_path, *after), tmp_path))


@settings(max_examples=25, deadline=None)
@given(said=st.lists(st.sampled_from((*SAID, *STEPS)), max_size=25))
def test_any_visit_is_as_the_schema_says(validator, tmp_path_factory, said):
    session = session_of(*said)
    of = record_of(session.case, session.events)
    validator.validate(exported(of, tmp_path_factory.mktemp("export")))


def test_records_of_older_versions_are_brought_to_it(validator, tmp_path):
    (tmp_path / "old.json").write_text(VERSION_1)
    validator.validate(exported(read_json(tmp_path / "old.json"), tmp_path))
    second = exported(record(*SAID), tmp_path)
    del second["digest"], second["hashes"]
    (tmp_path / "second.json").write_text(json.dumps({**second, "version": 2}))
    validator.validate(exported(read_json(tmp_path / "second.json"), tmp_path))


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data.pop("case"),
        lambda data: data.update(version=2),
        lambda data: data.update(novelty=True),
        lambda data: data["case"].update(index_scale=5),
        lambda data: data["events"][0].update(sequence=0),
        lambda data: data["events"][0]["what"].update(event="sneezed"),
        lambda data: data["findings"][0].pop("tooth"),
    ],
)
def test_the_schema_refuses_what_is_no_record(validator, tmp_path, change):
    data = exported(record(*SAID), tmp_path)
    change(data)
    assert not validator.is_valid(data)
