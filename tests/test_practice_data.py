"""Practice data: what is in the tables, what is left out, and what a question cannot reach."""

import csv
import io
import itertools
import re
from datetime import date
from pathlib import Path

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from dictate.cli import app
from dictate.errors import DictateError
from dictate.practice_data.collect import PracticeData, cautions, collected
from dictate.practice_data.counts import COUNTED_BY, count_question
from dictate.practice_data.database import asked, database
from dictate.practice_data.export import write_answer, write_tables
from dictate.practice_data.rows import age_group, usual_spelling
from dictate.practice_data.tables import TABLE_NAMES, columns_of, tables_text
from dictate.store.case_query import query_of
from dictate.store.cases import CaseStore
from tests.case_store import keep, kept_cases

DOCS = Path(__file__).resolve().parent.parent / "docs" / "practice_data.md"
SECRETS = ("mila", "zoe", "zoë", "k-1042", "k-7", "lind", "2026-05-04", "2019-03-28")


@pytest.fixture
def store(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    return kept_cases(tmp_path)


def data_of(store, text="", with_identity=False):
    names = (f"v{number:03}" for number in itertools.count())
    return collected(store, query_of(text), lambda: next(names), with_identity)


def answer(store, question, limit=100):
    return asked(data_of(store), question, limit).rows


def run(*arguments):
    return CliRunner().invoke(app, [str(each) for each in arguments])


def test_every_finding_is_a_row_with_the_stage_of_its_tooth(store):
    question = "SELECT tooth, kind, value, unit, site, stage FROM findings ORDER BY ALL"
    assert (208, "pocket", 7.0, "mm", "mesial", 2) in answer(store, question)
    assert (404, "missing", None, None, None, None) in answer(store, question)


def test_a_site_has_one_name(store):
    keep(store, "labial", 1, "204 pocket 4 labial")
    assert answer(store, "SELECT site FROM findings WHERE tooth = 204") == (("buccal",),)


def test_a_term_is_no_number(store):
    keep(store, "broken", 1, "208 complicated crown fracture")
    found = answer(store, "SELECT value, term FROM findings WHERE kind = 'fracture'")
    assert found == ((None, "CCF"),)


def test_teeth_say_whether_they_are_there(store):
    found = answer(store, "SELECT state, count(*) FROM teeth GROUP BY ALL ORDER BY ALL")
    assert found == (("missing", 1), ("present", 5))


def test_observations_are_rows_too(store):
    keep(store, "seen", 1, "go to soft tissue", "soft tissue normal")
    found = answer(store, "SELECT DISTINCT section, term, covered FROM observations")
    assert ("soft_tissue", "normal", True) in found


def test_what_waits_for_an_answer_is_not_in_it(store):
    keep(store, "asked", 1, "208 pocket 6 mesial", "208 pocket 9 mesial", animal="Waits")
    assert (9.0,) not in answer(store, "SELECT value FROM findings")


def test_an_empty_case_is_counted_not_exported(store):
    data = data_of(store)
    assert (len(data.tables["cases"]), data.empty) == (4, 1)
    assert "Cases in which nothing is charted are not in it: 1." in cautions(data)


def test_a_case_that_cannot_be_read_is_named(store, tmp_path):
    import sqlite3

    with sqlite3.connect(tmp_path / "cases.sqlite") as db:
        db.execute("UPDATE events SET document = '{}' WHERE case_id = 'mila-1'")
    data = data_of(store)
    assert len(data.tables["cases"]) == 3
    assert cautions(data)[-1].startswith("mila-1 is not in it:")


@pytest.mark.parametrize(
    "age, group",
    [(None, None), (0, "under 1"), (0.99, "under 1"), (1, "1 to 2"), (2.99, "1 to 2"),
     (3, "3 to 5"), (11.9, "9 to 11"), (12, "12 and over"), (40, "12 and over")],
)  # fmt: skip
def test_age_groups_are_of_completed_years(age, group):
    found = age_group(age)
    assert (found and found[1]) == group


@given(st.floats(0, 40), st.floats(0, 40))
def test_an_older_animal_is_never_in_a_younger_group(one, other):
    assert (age_group(one) <= age_group(other)) or one > other


def test_a_breed_that_is_written_in_several_ways_is_one():
    usual = usual_spelling(["border collie", "Border Collie", "Border  Collie", "Pug"])
    assert usual == {"border collie": "Border Collie", "pug": "Pug"}


def test_nothing_that_identifies_is_in_an_export(store, tmp_path):
    keep(store, "aged", 1, "208 calculus 1", birth_date=date(2019, 3, 28), weight_kg=18.3)
    write_tables(data_of(store), tmp_path / "out", date(2026, 6, 1))
    for path in (tmp_path / "out").iterdir():
        text = path.read_bytes().decode(errors="replace").casefold()
        assert not [each for each in SECRETS if each in text], path.name
    with duckdb.connect() as db:
        for path in (tmp_path / "out").glob("*.parquet"):
            rows = str(db.execute(f"SELECT * FROM '{path}'").fetchall()).casefold()
            assert not [each for each in SECRETS if each in rows], path.name
    assert answer(store, "SELECT weight_kg, age_group FROM cases WHERE weight_kg > 0") == (
        (18.5, "6 to 8"),
    )


def test_identity_is_there_where_it_was_asked_for(store):
    data = data_of(store, with_identity=True)
    assert set(data.column("case_id")) == {"mila-1", "mila-2", "zoe-1", "zoe-2"}
    assert "K-1042" in data.column("owner_reference")
    assert cautions(data)[0].startswith("It names animals")


def test_the_names_of_visits_differ_at_every_export_and_their_order_tells_nothing(store, tmp_path):
    exports = []
    for name in ("a", "b"):
        assert run("practice", "export", "--out", tmp_path / name).exit_code == 0
        rows = list(csv.DictReader((tmp_path / name / "cases.csv").open()))
        exports.append([row["visit"] for row in rows])
    assert not set(exports[0]) & set(exports[1])
    assert all(each == sorted(each) for each in exports)


def test_parquet_and_csv_hold_the_same_and_are_private(store, tmp_path):
    paths = write_tables(data_of(store), tmp_path / "it's here", date(2026, 6, 1))
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in paths)
    for table in TABLE_NAMES:
        rows = list(csv.reader((tmp_path / "it's here" / f"{table}.csv").open(newline="")))
        with duckdb.connect() as db:
            found = db.read_parquet(str(tmp_path / "it's here" / f"{table}.parquet"))
            assert [each.name for each in columns_of(table)] == rows[0] == found.columns
            assert len(found.fetchall()) == len(rows) - 1


def test_small_groups_are_warned_of_and_kept(store):
    data = data_of(store)
    assert "4 of 4 visits are one of fewer than 5" in cautions(data)[0]
    for number in range(5):
        keep(store, f"m-{number}", 0, "208 calculus 1")
    assert "2 of 9 visits are one of fewer than 5" in cautions(data_of(store))[0]


@pytest.mark.parametrize(
    "question",
    ["DROP TABLE cases", "DELETE FROM cases", "SELECT 1; SELECT 2", "", "CREATE TABLE x (y INT)",
     "COPY cases TO 'stolen.csv'", "ATTACH 'other.db'", "INSTALL httpfs", "LOAD httpfs",
     "SET enable_external_access = true", "EXPORT DATABASE 'stolen'", "PRAGMA database_list"],
)  # fmt: skip
def test_only_one_select_is_taken(store, question, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(DictateError, match=r"one SELECT|cannot be answered"):
        answer(store, question)
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    "table",
    ["'{file}'", "read_csv('{file}')", "read_text('{file}')", "read_blob('{file}')",
     "glob('{folder}/*')", "parquet_scan('{file}')", "sniff_csv('{file}')", "SECRET",
     "'http://127.0.0.1:9/x.parquet'", "sqlite_scan('{file}', 'cases')"],
)  # fmt: skip
def test_a_question_reaches_no_file_no_network_and_no_variable(store, table, tmp_path):
    SECRET = duckdb.sql("SELECT 'secret' AS secret")  # noqa: N806, F841
    file = tmp_path / "file.csv"
    file.write_text("a,b\n1,2\n")
    with pytest.raises(DictateError, match="cannot be answered"):
        answer(store, f"SELECT * FROM {table.format(file=file, folder=tmp_path)}")


def test_the_door_cannot_be_opened_again(store):
    with database(data_of(store)) as db, pytest.raises(duckdb.Error):
        db.execute("SET enable_external_access = true")


def test_a_question_with_a_mistake_gets_one_sentence(store):
    with pytest.raises(DictateError) as caught:
        answer(store, "SELECT nothing_of_that_name FROM cases")
    assert "\n" not in str(caught.value) and "docs/practice_data.md" in str(caught.value)


def test_more_rows_than_the_limit_are_said(store):
    found = asked(data_of(store), "SELECT * FROM findings", 2)
    assert (len(found.rows), found.more) == (2, True)


@pytest.mark.parametrize("by", [[each] for each in COUNTED_BY] + [list(COUNTED_BY)])
def test_counting_by_whatever_counts_each_staged_tooth_once(store, by):
    found = asked(data_of(store), count_question(by), 1000)
    teeth = found.columns.index("teeth")
    [(every,)] = answer(store, "SELECT count(stage) FROM teeth")
    assert sum(row[teeth] for row in found.rows) == every > 0


def test_ages_are_counted_from_the_young_to_the_old(store):
    for number, age in enumerate((13.0, 0.5, 7.0, 4.0)):
        keep(store, f"age-{number}", 1, "208 calculus 1", age_years=age, owner_reference=f"N{age}")
    found = [row[0] for row in answer(store, count_question(["age"]))]
    assert found == ["under 1", "3 to 5", "6 to 8", "12 and over", None]


def test_a_visit_without_a_staged_tooth_is_counted_all_the_same(store):
    keep(store, "toothless", 1, "404 missing")
    visits = answer(store, count_question(["stage"]))
    assert visits[-1] == (None, 1, 0, 0)


@pytest.mark.parametrize("by", ["owner", "stage;DROP", ""])
def test_what_cannot_be_counted_by_is_said(store, by):
    assert "not counted by" in str(run("practice", "count", "--by", by).exception)


formulas = st.sampled_from(
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "＝1", " =1", "\u202e=1", "\x00="]
)


@settings(deadline=None, max_examples=30)
@given(formulas, st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
def test_no_cell_of_a_table_starts_a_formula(start, rest):
    rows = {
        "cases": [("v1", "dog", start + rest, *(None,) * 10)],
        "teeth": [], "findings": [], "observations": [],
    }  # fmt: skip
    data = PracticeData(rows, False, 0, ())
    found = asked(data, "SELECT breed FROM cases", 5)
    path = Path("/tmp") / "unused.csv"
    with pytest.MonkeyPatch.context() as patch:
        written = []
        patch.setattr(
            "dictate.practice_data.export.write_private", lambda _, text: written.append(text)
        )
        write_answer(found, path)
    [cell] = list(csv.reader(io.StringIO(written[0], newline="")))[1]
    assert not cell.lstrip().startswith(("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"))


def test_hostile_breeds_are_only_text(store, tmp_path):
    breed = "'; DROP TABLE cases; --"
    keep(store, "hostile", 1, "208 calculus 1", breed=breed)
    result = run("practice", "count", "--by", "breed", "--out", tmp_path / "a.csv")
    assert result.exit_code == 0
    guarded = "'; DROP TABLE cases; '--"
    assert guarded in (tmp_path / "a.csv").read_text().replace("''", "'")


def test_the_commands_take_days_and_species(store):
    result = run("practice", "ask", "SELECT count(*) FROM cases", "--species", "cat")
    assert "2" in result.stdout
    nothing = run("practice", "export", "--out", "x", "--until", "2001-01")
    assert "nothing to tell" in str(nothing.exception)
    assert "no species" in str(run("practice", "count", "--species", "cow").exception)
    assert "is no .csv" in str(run("practice", "ask", "SELECT 1", "--out", "x.xls").exception)


def test_duckdb_is_loaded_only_for_these_commands():
    import subprocess
    import sys

    code = "import sys, dictate.cli; sys.exit('duckdb' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_documentation_has_the_tables():
    """Made again by writing `tables_text()` at the end of docs/practice_data.md."""
    assert DOCS.read_text(encoding="utf-8").endswith(tables_text())


@pytest.mark.parametrize(
    "question", re.findall("(?s)(?<=\n)SELECT .*?(?=\n\n|\n```)", DOCS.read_text(encoding="utf-8"))
)
def test_the_examples_of_the_documentation_are_answered(store, question):
    answer(store, question)


def test_another_file_of_cases_is_not_changed_by_reading(tmp_path):
    store = CaseStore(tmp_path / "cases.sqlite")
    keep(store, "one", 0, "208 calculus 1")
    before = store.load("one")
    data_of(store)
    assert store.load("one") == before
