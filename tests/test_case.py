import json
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from dictate.chart.anatomy import SPECIES, anatomy_of
from dictate.chart.case import (
    HEAVIEST_KG,
    Case,
    case_problems,
    dentition_for,
    entered_case,
    shown,
)
from dictate.errors import DictateError
from dictate.report.page import html_page
from dictate.report.record import read_json, record_of, write_json

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
LEAST = {"id": "mila-1", "species": "dog", "opened": OPENED}
STATED = {
    "animal": "Mila",
    "breed": "Boxer",
    "sex": "female",
    "neutered": True,
    "birth_date": date(2021, 3, 28),
    "weight_kg": 27.4,
    "owner_reference": "K-1042",
    "clinician": "Dr. Okoro",
    "assistant": "Ann Vale",
    "reason": "Odour from the mouth",
    "history": "Drops food.\nEats soft food only.",
    "short_nosed": True,
    "index_scale": 3,
}


def entered(**values):
    return entered_case({**LEAST, **values})


def complaint(**values):
    with pytest.raises(DictateError) as raised:
        entered(**values)
    sentence = str(raised.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def test_all_that_is_stated_is_kept():
    case = entered(**STATED)
    assert {field: getattr(case, field) for field in STATED} == STATED


def test_a_case_kept_before_there_were_these_fields_still_loads():
    old = (
        '{"id": "brindle", "species": "cat", "opened": "2026-05-04T09:30:00Z", '
        '"animal": "Brin\\tdle", "clinician": "Dr. Okoro", "index_scale": 4}'
    )
    case = Case.model_validate_json(old)
    assert (case.sex, case.neutered, case.weight_kg, case.age) == ("unknown", None, None, None)
    assert case.dentition == "permanent"


def test_a_stated_case_comes_back_from_its_record(tmp_path):
    case = entered(**STATED)
    write_json(record_of(case, []), tmp_path / "record.json")
    assert read_json(tmp_path / "record.json").case == case


def test_a_record_with_an_impossible_weight_is_not_read(tmp_path):
    path = tmp_path / "record.json"
    write_json(record_of(entered(**STATED), []), path)
    data = json.loads(path.read_text())
    data["case"]["weight_kg"] = 274
    path.write_text(json.dumps(data))
    with pytest.raises(DictateError, match="case > weight_kg does not fit"):
        read_json(path)


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("species", "horse"),
        ("sex", "f"),
        ("neutered", "yes"),
        ("neutered", 1),
        ("birth_date", "last spring"),
        ("birth_date", date(2026, 5, 5)),
        ("birth_date", date(1921, 3, 28)),
        ("birth_date", OPENED),
        ("age_years", -1),
        ("age_years", 41),
        ("age_years", "five"),
        ("weight_kg", 0),
        ("weight_kg", -3),
        ("weight_kg", 120.5),
        ("weight_kg", "27"),
        ("weight_kg", True),
        pytest.param("weight_kg", 10**400, id="weight_kg-hundreds of digits"),
        pytest.param("weight_kg", 16**5000, id="weight_kg-thousands of digits"),
        ("owner_reference", "vale@example.org"),
        ("owner_reference", "+44 1632 960000"),
        ("owner_reference", "Ann Vale, 3 Elm Row"),
        ("index_scale", 5),
        ("dentition", "milk"),
        ("short_nosed", "no"),
        ("animal", None),
        ("animal", "x" * 201),
        ("breed", "x" * 101),
        ("history", "x" * 5001),
        pytest.param("history", "a\ud800", id="history-half a character"),
        ("opened", datetime(2026, 5, 4, 8, 2)),
        ("id", "Mila 1"),
    ],
)
def test_a_wrong_value_gets_a_sentence_with_its_field_and_what_to_write(field, wrong):
    sentence = complaint(**{field: wrong})
    assert sentence.startswith(f"{field} cannot be ")
    assert ": write " in sentence


@pytest.mark.parametrize("field", ["animal", "clinician", "breed", "assistant", "reason"])
@pytest.mark.parametrize("hidden", ["\x1b[31m", "\n", "\x00", "\u202e", "\u200b"])
def test_characters_that_are_not_seen_are_refused_in_a_line(field, hidden):
    sentence = complaint(**{field: f"Mi{hidden}la"})
    assert sentence.startswith(f"{field} cannot be ")
    assert sentence.isprintable()


def test_a_history_has_lines_and_no_other_control_characters():
    assert entered(history="one\ntwo").history == "one\ntwo"
    assert "history" in complaint(history="one\ttwo")


def test_joiners_inside_words_are_letters():
    assert entered(animal="می\u200cلا").animal == "می\u200cلا"


@pytest.mark.parametrize("species", HEAVIEST_KG)
def test_the_heaviest_weight_of_a_species_is_taken_and_more_is_not(species):
    most = HEAVIEST_KG[species]
    assert entered(species=species, weight_kg=most).weight_kg == most
    assert "20 for a cat" in complaint(species=species, weight_kg=most + 0.1)


@given(number=st.sampled_from([float("nan"), float("inf"), float("-inf")]))
def test_what_is_no_number_is_neither_weight_nor_age(number):
    assert complaint(weight_kg=number).startswith("weight_kg cannot be")
    assert complaint(age_years=number).startswith("age_years cannot be")


def test_a_birth_date_and_an_age_do_not_stand_together():
    sentence = complaint(birth_date=date(2021, 3, 28), age_years=5)
    assert sentence == "age_years cannot stand beside birth_date: write one of the two."


def test_a_field_that_is_missing_is_named():
    with pytest.raises(DictateError, match="species is missing: write dog or cat"):
        entered_case({"id": "mila-1", "opened": OPENED})


def test_every_wrong_field_has_its_own_sentence():
    with pytest.raises(ValidationError) as raised:
        Case(**LEAST, weight_kg=500, sex="f", colour="fawn")
    sentences = case_problems(raised.value)
    assert len(sentences) == 3
    assert all(
        any(field in sentence for sentence in sentences) for field in ("weight_kg", "sex", "colour")
    )


@given(st.one_of(st.text(), st.integers(), st.floats(), st.none(), st.booleans(), st.binary()))
def test_a_wrong_value_is_quoted_short_and_seen(value):
    assert len(shown(value)) <= 40
    assert shown(value).isprintable()


def test_the_age_is_that_on_the_day_of_the_visit():
    assert entered(birth_date=date(2021, 5, 4)).age == pytest.approx(5, abs=0.01)
    assert entered(age_years=0.5).age == 0.5


@pytest.mark.parametrize(
    ("species", "months", "dentition"),
    [
        ("dog", 2, "deciduous"),
        ("dog", 5, "mixed"),
        ("dog", 6.9, "mixed"),
        ("dog", 7, "permanent"),
        ("cat", 2, "deciduous"),
        ("cat", 5.9, "mixed"),
        ("cat", 6, "permanent"),
        ("cat", 120, "permanent"),
    ],
)
def test_dentition_by_age(species, months, dentition):
    """Permanent dentition complete about 7 months (dog), 6 months (cat). Source: from memory:
    confirm against a printed reference."""
    assert dentition_for(species, months / 12) == dentition


def test_without_an_age_the_dentition_is_permanent():
    assert dentition_for("dog", None) == "permanent"


def test_every_row_of_the_ages_of_dentition_names_its_source():
    assert all(
        "confirm against a printed reference" in row.source
        for each in SPECIES
        for row in anatomy_of(each).dentition_ages
    )


def test_a_young_animal_is_charted_with_mixed_dentition():
    assert entered(birth_date=date(2025, 12, 20)).dentition == "mixed"


def test_a_stated_dentition_stands_against_the_age():
    assert entered(age_years=0.1, dentition="permanent").dentition == "permanent"


def test_the_page_shows_what_is_stated():
    page = html_page(record_of(entered(**STATED), []))
    for words in (
        "Boxer", "female, neutered", "5.1 years, born 2021-03-28", "27.4 kg", "K-1042", "Ann Vale",
        "Odour from the mouth", "Eats soft food only.", "<dt>Dentition</dt><dd><bdi>permanent",
        "<dt>Short-nosed</dt><dd><bdi>yes",
    ):  # fmt: skip
        assert words in page


def test_the_page_does_not_show_what_is_not_stated():
    page = html_page(record_of(Case(**LEAST), []))
    for label in ("Breed", "Sex", "Age", "Weight", "Short-nosed", "Dentition", "Assistant"):
        assert f"<dt>{label}</dt>" not in page
    assert "<h2>History</h2>" not in page


def test_markup_in_the_history_is_text():
    page = html_page(record_of(entered(history="<script>x</script>"), []))
    assert "<script>" not in page
