import json
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from sqlalchemy.exc import OperationalError

from dictate.chart.case import Case
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store import search_columns
from dictate.store.case_query import CaseQuery, day_of, query_of, within
from dictate.store.cases import CaseStore
from dictate.text import folded

OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
OLD_TABLES = """
CREATE TABLE cases (id VARCHAR(64) NOT NULL, opened VARCHAR(40) NOT NULL, document TEXT NOT NULL,
    PRIMARY KEY (id));
CREATE INDEX ix_cases_opened ON cases (opened);
CREATE TABLE events (case_id VARCHAR(64) NOT NULL, sequence INTEGER NOT NULL,
    document TEXT NOT NULL, PRIMARY KEY (case_id, sequence),
    FOREIGN KEY(case_id) REFERENCES cases (id));
"""
"""The tables of the first release, as it made them."""


def case(number, **fields):
    return Case(**{"id": f"case-{number}", "species": "dog", "opened": OPENED, **fields})


@pytest.fixture
def path(tmp_path):
    return tmp_path / "cases.sqlite"


def old_file(path, *cases, documents=()):
    with sqlite3.connect(path) as db:
        db.executescript(OLD_TABLES)
        rows = [(each.id, each.opened.isoformat(), each.model_dump_json()) for each in cases]
        db.executemany("insert into cases values (?, ?, ?)", [*rows, *documents])
    db.close()


def found(store, text="", **more):
    query = query_of(text)
    listed = store.search(CaseQuery(**{**vars(query), **more})).summaries
    return [each.case.id for each in listed]


@pytest.mark.parametrize(
    "text", ["zoe", "ZOË", "zo", "collie zoe", "k-1042", "lind", "dog", "case-1", " Dr. Ada "]
)
def test_a_case_is_found_by_any_part_of_what_it_is_called_by(path, text):
    store = CaseStore(path)
    store.add_case(
        case(
            1,
            animal="Zoë",
            breed="Border Collie",
            owner_reference="K-1042",
            clinician="Dr. Ada Lind",
        )
    )
    store.add_case(case(2, animal="Max", species="cat", opened=OPENED - timedelta(days=1)))
    assert found(store, text) == ["case-1"]
    assert found(store, f"{text} nothing-has-this") == []
    assert found(store, f"{text} zoe") == ["case-1"]


@pytest.mark.parametrize("text", ["%", "_", "ca%e", "\\", "'", '"; drop table cases'])
def test_signs_are_looked_for_as_they_are(path, text):
    store = CaseStore(path)
    store.add_case(case(1, animal="Max"))
    assert found(store, text) == []
    assert found(store) == ["case-1"]


def test_species_clinician_and_time_narrow_it_down(path):
    store = CaseStore(path)
    store.add_case(case(1, clinician="Ann Vale"))
    store.add_case(case(2, species="cat", opened=OPENED + timedelta(days=3)))
    assert found(store, species="cat") == ["case-2"]
    assert found(store, clinician="vale") == ["case-1"]
    assert found(store, since=OPENED) == ["case-2", "case-1"]
    assert found(store, since=OPENED + timedelta(seconds=1)) == ["case-2"]
    assert found(store, until=OPENED) == []
    assert found(store, until=OPENED + timedelta(seconds=1)) == ["case-1"]


def test_cases_of_two_time_zones_stand_in_the_order_of_time(path):
    store = CaseStore(path)
    east = timezone(timedelta(hours=9))
    store.add_case(case(1, opened=datetime(2026, 5, 4, 12, tzinfo=east)))
    store.add_case(case(2, opened=datetime(2026, 5, 4, 4, tzinfo=UTC)))
    assert found(store) == ["case-2", "case-1"]


def test_no_more_are_listed_than_asked_for_and_all_are_counted(path):
    store = CaseStore(path)
    for number in range(5):
        store.add_case(case(number, opened=OPENED + timedelta(days=number)))
    result = store.search(CaseQuery(), limit=2)
    assert [each.case.id for each in result.summaries] == ["case-4", "case-3"]
    assert result.total == 5


def keep_a_finding(store, kept):
    session = Session(kept, spoken_languages(), save=lambda new: store.append(kept.id, new))
    session.type_text("104 calculus 2")
    return session


def test_the_number_of_events_is_listed(path):
    store = CaseStore(path)
    store.add_case(case(1))
    store.add_case(case(2, opened=OPENED + timedelta(days=1)))
    session = keep_a_finding(store, case(1))
    counted = [(each.case.id, each.events) for each in store.search(CaseQuery()).summaries]
    assert counted == [("case-2", 0), ("case-1", len(session.events))]


def test_namesakes_are_earlier_cases_of_that_name_and_species(path):
    store = CaseStore(path)
    mila = case(1, animal="Mila", opened=OPENED)
    others = [
        case(2, animal="MILÁ", opened=OPENED - timedelta(days=300)),
        case(3, animal="mila", opened=OPENED - timedelta(days=30)),
        case(4, animal="Mila", opened=OPENED + timedelta(days=1)),
        case(5, animal="Mila", species="cat", opened=OPENED - timedelta(days=1)),
        case(6, animal="Milan", opened=OPENED - timedelta(days=1)),
        case(7, opened=OPENED - timedelta(days=1)),
    ]
    for each in (mila, *others):
        store.add_case(each)
        keep_a_finding(store, each)
    assert [each.id for each in store.namesakes_before(mila)] == ["case-3", "case-2"]
    assert store.namesakes_before(case(8)) == []


def test_a_case_that_was_opened_and_left_empty_is_no_earlier_visit(path):
    store = CaseStore(path)
    for number, days in ((1, 30), (2, 1)):
        store.add_case(case(number, animal="Mila", opened=OPENED - timedelta(days=days)))
    keep_a_finding(store, case(1))
    mila = case(3, animal="Mila")
    assert [each.id for each in store.namesakes_before(mila)] == ["case-1"]


def test_an_old_file_is_searched_like_a_new_one_and_keeps_its_documents(path):
    zoe = case(1, animal="Zoë", owner_reference="K-1")
    old_file(path, zoe, case(2, opened=OPENED - timedelta(days=9)))
    store = CaseStore(path)
    assert found(store, "zoe") == ["case-1"]
    assert found(store) == ["case-1", "case-2"]
    assert store.load("case-1") == (zoe, ())
    store.add_case(case(3, animal="Zoe"))
    assert found(store, "zoe") == ["case-1", "case-3"]
    with sqlite3.connect(path) as db:
        indexes = {row[1] for row in db.execute("pragma index_list(cases)")}
    assert {"ix_cases_opened_utc", "ix_cases_animal"} <= indexes


def test_what_an_old_program_adds_to_a_new_file_is_found_at_the_next_opening(path):
    CaseStore(path).add_case(case(1, animal="Zoë"))
    late = case(2, animal="Zoë", opened=OPENED - timedelta(days=1))
    with sqlite3.connect(path) as db:
        db.execute(
            "insert into cases (id, opened, document) values (?, ?, ?)",
            (late.id, late.opened.isoformat(), late.model_dump_json()),
        )
    assert found(CaseStore(path), "zoe") == ["case-1", "case-2"]


@pytest.mark.parametrize(
    "document", ["{", "[]", '{"opened": "soon", "animal": 7}', "{}", r'{"animal": "\ud800"}']
)
def test_a_document_that_cannot_be_read_does_not_keep_an_old_file_from_opening(path, document):
    old_file(path, case(1, animal="Zoë"), documents=[("odd", "soon", document)])
    store = CaseStore(path)
    assert found(store, "zoe") == ["case-1"]
    assert store.load("case-1")[0].animal == "Zoë"


def test_an_old_file_may_be_opened_by_several_at_once(path):
    old_file(path, *(case(number, animal="Zoë") for number in range(300)))
    with ThreadPoolExecutor(4) as several:
        stores = list(several.map(lambda _: CaseStore(path), range(4)))
    assert [len(found(store, "zoe")) for store in stores] == [200] * 4
    assert stores[0].search(query_of("zoe")).total == 300


def test_an_old_file_that_cannot_be_filled_stays_as_it_was(path, monkeypatch):
    old_file(path, case(1), case(2))

    def fails(_document):
        raise OperationalError("update", {}, OSError("disk full"))

    monkeypatch.setattr(search_columns, "columns_of", fails)
    with pytest.raises(DictateError, match="cannot be used"):
        CaseStore(path)
    monkeypatch.undo()
    with sqlite3.connect(path) as db:
        columns = [row[1] for row in db.execute("pragma table_info(cases)")]
    assert columns == ["id", "opened", "document"]
    assert found(CaseStore(path)) == ["case-1", "case-2"]


def test_the_columns_say_what_the_document_says(path):
    one = case(1, animal="Zoë", clinician="Ann Vale", breed="pug")
    CaseStore(path).add_case(one)
    with sqlite3.connect(path) as db:
        db.row_factory = sqlite3.Row
        row = dict(db.execute("select * from cases").fetchone())
    expected = search_columns.columns_of(json.loads(row["document"]))
    assert {column: row[column] for column in expected} == expected
    assert tuple(expected) == search_columns.COLUMNS


@pytest.mark.parametrize(
    "text, plain",
    [
        ("Zoë", "zoe"),
        ("  ÅSA  Björk ", "asa bjork"),
        ("Bjørn", "bjorn"),
        ("Łatka", "latka"),
        ("Straße", "strasse"),
        ("ＭＩＬＡ", "mila"),
        ("", ""),
    ],
)
def test_folding_takes_accents_and_capital_letters_away(text, plain):
    assert folded(text) == plain
    assert folded(plain) == plain


def local(*day):
    return datetime(*day).astimezone()


def test_a_day_and_a_month_are_times_and_other_words_are_words():
    assert query_of("Zoë 2026-05-04") == CaseQuery(
        words=("zoe",), since=local(2026, 5, 4), until=local(2026, 5, 5)
    )
    assert query_of("2026-02") == CaseQuery(since=local(2026, 2, 1), until=local(2026, 3, 1))
    assert query_of("2026-13 K-2026-05") == CaseQuery(words=("2026-13", "k-2026-05"))
    assert query_of("9999-12-31").until is None


def test_days_bound_each_other():
    query = within(query_of("2026-05"), date(2026, 5, 10), date(2026, 7, 1))
    assert (query.since, query.until) == (local(2026, 5, 10), local(2026, 6, 1))


def test_a_day_is_read_or_refused():
    assert day_of("2026-05-04") == date(2026, 5, 4)
    assert (day_of("2026-02"), day_of("2026-02", last=True)) == (
        date(2026, 2, 1),
        date(2026, 2, 28),
    )
    with pytest.raises(DictateError, match="'yesterday' is no day: write one such as"):
        day_of("yesterday")
