import json
import os
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.case import entered_case
from dictate.chart.case_file import CASE_FILE_FIELDS, closest, read_case_file
from dictate.errors import DictateError

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
TOML = """
species = "cat"
animal = "Quill"
sex = "male"
neutered = true
birth_date = 2019-02-11
weight_kg = 5
history = '''
Hides.
Paws at the mouth.'''
"""
JSON = {
    "species": "cat",
    "animal": "Quill",
    "sex": "male",
    "neutered": True,
    "birth_date": "2019-02-11",
    "weight_kg": 5,
    "history": "Hides.\nPaws at the mouth.",
}


def written(folder, text, name="case.toml"):
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def complaint(path):
    with pytest.raises(DictateError) as raised:
        read_case_file(path, OPENED)
    sentence = str(raised.value)
    assert sentence.startswith(path.name)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def test_json_and_toml_say_the_same(tmp_path):
    from_toml = read_case_file(written(tmp_path, TOML), OPENED)
    from_json = read_case_file(written(tmp_path, json.dumps(JSON), "case.json"), OPENED)
    assert from_toml == from_json == JSON | {"birth_date": date(2019, 2, 11)}


def test_the_fields_of_a_file_make_a_case(tmp_path):
    fields = read_case_file(written(tmp_path, TOML), OPENED)
    assert entered_case({"id": "quill", "opened": OPENED, **fields}).animal == "Quill"


def test_a_file_may_leave_everything_out(tmp_path):
    assert read_case_file(written(tmp_path, "")) == {}


def test_a_mark_at_the_start_and_capitals_in_the_type_do_not_matter(tmp_path):
    path = written(tmp_path, b"\xef\xbb\xbf" + b'{"animal": "Quill"}', "Case.JSON")
    assert read_case_file(path, OPENED) == {"animal": "Quill"}


@pytest.mark.parametrize("name", ["case.yaml", "case", "case.json.txt"])
def test_another_type_of_file_is_refused(tmp_path, name):
    assert "ends in .json or .toml" in complaint(written(tmp_path, "", name))


def test_a_file_that_is_not_there_is_named(tmp_path):
    assert "No such file" in complaint(tmp_path / "case.toml")


def test_a_folder_is_no_file(tmp_path):
    (tmp_path / "case.toml").mkdir()
    assert "is not a file" in complaint(tmp_path / "case.toml")


def test_a_recording_by_mistake_is_too_large(tmp_path):
    assert "too large" in complaint(written(tmp_path, b"#" * 1_000_001))


@pytest.mark.parametrize("text", [b'animal = "Bj\xf6rn"', "animal = 'Quill'".encode("utf-16")])
def test_bytes_that_are_not_utf8_ask_to_be_saved_as_utf8(tmp_path, text):
    assert "save it again as UTF-8" in complaint(written(tmp_path, text))


@pytest.mark.parametrize("text", ["animal = ", "animal", 'animal = "a"\nanimal = "b"'])
def test_broken_toml_is_called_that(tmp_path, text):
    assert "is not TOML" in complaint(written(tmp_path, text))


@pytest.mark.parametrize("text", ["", "{", "{'animal': 1}", "[" * 100_000, "9" * 5000])
def test_broken_json_is_called_that(tmp_path, text):
    assert "is not JSON" in complaint(written(tmp_path, text, "case.json"))


@pytest.mark.parametrize("text", ["null", "[]", '"Quill"', "5"])
def test_json_without_names_is_refused(tmp_path, text):
    assert "holds no names" in complaint(written(tmp_path, text, "case.json"))


def test_a_field_written_twice_is_named(tmp_path):
    path = written(tmp_path, '{"animal": "Quill", "animal": "Mila"}', "case.json")
    assert complaint(path) == "case.json has 'animal' twice: take one out."


@pytest.mark.parametrize(
    ("field", "meant"),
    [
        ("weigth_kg", "weight_kg"),
        ("weight", "weight_kg"),
        ("Species", "species"),
        ("birthdate", "birth_date"),
        ("shortnosed", "short_nosed"),
        ("owner", "owner_reference"),
    ],
)
def test_an_unknown_field_is_answered_with_the_closest(tmp_path, field, meant):
    sentence = complaint(written(tmp_path, f"{field} = 1"))
    assert f"no field '{field}': write {meant} if you meant that" in sentence


def test_a_field_like_no_other_is_to_be_taken_out(tmp_path):
    assert "take it out" in complaint(written(tmp_path, "zzz = 1"))


@pytest.mark.parametrize("field", ["id", "opened"])
def test_what_dictate_sets_is_not_for_the_file(tmp_path, field):
    assert "is set by dictate itself" in complaint(written(tmp_path, f'{field} = "x"'))


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ('species = "horse"', "species"),
        ('weight_kg = "5"', "weight_kg"),
        ("weight_kg = nan", "weight_kg"),
        ("weight_kg = true", "weight_kg"),
        ("weight_kg = [5]", "weight_kg"),
        ('species = "cat"\nweight_kg = 27', "weight_kg"),
        ("birth_date = 2026-05-05", "birth_date"),
        ("birth_date = 2021-05-05T10:00:00Z", "birth_date"),
        ('birth_date = "11.2.2019"', "birth_date"),
        ('neutered = "yes"', "neutered"),
        ("animal = 7", "animal"),
        ('animal = "\\u001b[31m"', "animal"),
        ('owner_reference = "vale@example.org"', "owner_reference"),
        ("index_scale = 5", "index_scale"),
        ('[breed]\nname = "x"', "breed"),
        ("birth_date = 2019-02-11\nage_years = 7", "age_years"),
    ],
)
def test_a_wrong_value_names_file_and_field_and_what_to_write(tmp_path, line, field):
    sentence = complaint(written(tmp_path, line))
    assert sentence.startswith(f"case.toml: {field} cannot ")
    assert ": write " in sentence


@pytest.mark.parametrize("text", ['{"animal": null}', '{"animal": "\\ud800"}'])
def test_a_wrong_value_of_json_is_named_too(tmp_path, text):
    assert "case.json: animal cannot be" in complaint(written(tmp_path, text, "case.json"))


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)


@settings(deadline=None, max_examples=200)
@given(st.dictionaries(st.sampled_from(CASE_FILE_FIELDS) | st.text(), anything, max_size=4))
def test_whatever_a_file_holds_it_is_read_or_refused_in_a_sentence(tmp_path_factory, values):
    path = tmp_path_factory.mktemp("case") / "case.json"
    path.write_text(json.dumps(values))
    try:
        assert set(read_case_file(path, OPENED)) == set(values)
    except DictateError as error:
        assert str(error).startswith("case.json")
        assert "\n" not in str(error)


def test_nothing_alike_is_close():
    assert closest("zzz", CASE_FILE_FIELDS) is None


def chart(folder: Path, *arguments: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "dictate", "chart", *arguments],
        capture_output=True,
        text=True,
        env={**os.environ, "DICTATE_DATA": str(folder / "data")},
        cwd=Path(__file__).resolve().parent.parent,
        check=False,
        stdin=subprocess.DEVNULL,
    )


def test_a_wrong_file_ends_the_command_with_one_sentence_and_no_case(tmp_path):
    run = chart(tmp_path, "--from", str(written(tmp_path, "weigth_kg = 5")))
    assert run.returncode == 2
    assert run.stderr.count("\n") == 1
    assert "weight_kg" in run.stderr
    assert not (tmp_path / "data").exists()


def test_a_case_to_resume_takes_no_file(tmp_path):
    run = chart(tmp_path, "quill", "--from", str(written(tmp_path, TOML)))
    assert run.returncode == 2
    assert "--from is for a new case" in run.stderr


@pytest.fixture
def opened(tmp_path, monkeypatch):
    """Open a case as `dictate chart` does, without its screen."""
    from dictate.commands.chart import _stored_session

    def open_with(**flags):
        blank = dict.fromkeys(("species", "index_scale", "animal", "clinician"))
        return _stored_session(None, written(tmp_path, TOML), blank | flags, 4).case

    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    return open_with


def test_the_fields_of_the_file_are_those_of_the_case(opened):
    case = opened()
    assert (case.species, case.animal, case.weight_kg) == ("cat", "Quill", 5)
    assert case.index_scale == 4


def test_flags_win_over_the_file(opened):
    case = opened(species="dog", animal="Mila", index_scale=3)
    assert (case.species, case.animal, case.index_scale, case.sex) == ("dog", "Mila", 3, "male")
