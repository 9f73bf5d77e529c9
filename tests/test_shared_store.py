"""The store on both kinds of database, its address, and how it is brought up to date."""

import sqlite3
import stat
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text
from typer.testing import CliRunner

from dictate import cli
from dictate.cases.stored import keep_new_case
from dictate.chart.case import Case
from dictate.chart.events import Event, ToothChosen
from dictate.chart.stations import BehindError
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.integrity.chain import hashes_of
from dictate.session.session import Session
from dictate.settings import read_settings
from dictate.store import migrate
from dictate.store.address import address_of, hidden_address
from dictate.store.case_query import query_of
from dictate.store.cases import CaseStore
from dictate.store.database import StoreAwayError
from dictate.store.delivery import delivery_of
from dictate.store.migrate import VERSIONS
from dictate.store.tables import Base
from tests.postgres import PASSWORD
from tests.test_case_search import OLD_TABLES

OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
CASE = Case(id="brindle", species="dog", opened=OPENED, animal="Brindle")
SECOND_TABLES = OLD_TABLES.replace(
    "document TEXT NOT NULL,\n    PRIMARY KEY (id))",
    "document TEXT NOT NULL, opened_utc TEXT DEFAULT '' NOT NULL, species TEXT DEFAULT '' NOT NULL,"
    " animal TEXT DEFAULT '' NOT NULL, clinician TEXT DEFAULT '' NOT NULL,"
    " searched TEXT DEFAULT '' NOT NULL, PRIMARY KEY (id))",
)
"""The tables of the release that had the search columns, as it made them."""


def chosen(*numbers, tooth=208):
    return [
        Event(sequence=n, utterance=n, time=OPENED, what=ToothChosen(tooth=tooth)) for n in numbers
    ]


def charted(store, *phrases):
    store.add_case(CASE)
    session = Session(CASE, spoken_languages(), save=lambda new: store.append(CASE.id, new))
    for phrase in phrases:
        session.type_text(phrase)
    return session


def old_file(path, tables, phrases=("208 calculus 2", "209 missing")):
    session = Session(CASE, spoken_languages(), now=lambda: OPENED)
    for phrase in phrases:
        session.type_text(phrase)
    with sqlite3.connect(path) as db:
        db.executescript(tables)
        row = (CASE.id, OPENED.isoformat(), CASE.model_dump_json())
        db.execute("insert into cases (id, opened, document) values (?, ?, ?)", row)
        rows = [(CASE.id, each.sequence, each.model_dump_json()) for each in session.events]
        db.executemany("insert into events values (?, ?, ?)", rows)
    db.close()
    return session


def test_a_case_is_kept_and_found(place):
    store = CaseStore(place)
    session = charted(store, "208 calculus 2", "pocket 5 mesial", "undo")
    assert CaseStore(place).load(CASE.id) == (CASE, session.events)
    assert [each.case.id for each in store.search(query_of("brin 2026-05")).summaries] == [CASE.id]
    assert store.search(query_of("%")).total == 0
    with pytest.raises(DictateError, match="brindle exists"):
        store.add_case(CASE)
    assert store.fresh_id(OPENED, "dog") == "20260504-dog-1"


def test_names_of_any_letters_are_kept_and_found(place):
    store = CaseStore(place)
    odd = CASE.model_copy(update={"animal": "Zoë\0 \\ ' ☃", "breed": "ＰＵＧ"})
    store.add_case(odd)
    assert store.load(CASE.id)[0] == odd
    for words in ("zoe", "zoë", "☃", "pug", "\\", "zo\0e"):
        assert store.search(query_of(words)).total == 1, words


def test_cases_are_in_the_same_order_everywhere(place):
    store = CaseStore(place)
    for number in ("a-b", "ab", "a1", "b", "a-1"):
        store.add_case(CASE.model_copy(update={"id": number}))
    listed = [each.case.id for each in store.cases()]
    assert listed == ["a-1", "a-b", "a1", "ab", "b"]


def test_each_event_has_its_hash(place):
    store = CaseStore(place)
    session = charted(store, "208 calculus 2", "pocket 5 mesial", "209 missing")
    assert store.as_kept(CASE.id).hashes == tuple(hashes_of(CASE, session.events))


def test_who_is_behind_is_told_what_was_charted(place):
    store = CaseStore(place)
    store.add_case(CASE)
    store.append(CASE.id, chosen(1, 2))
    with pytest.raises(BehindError) as behind:
        store.append(CASE.id, chosen(2, 3))
    assert behind.value.events == tuple(chosen(2))
    assert store.load(CASE.id)[1] == tuple(chosen(1, 2))
    with pytest.raises(DictateError, match="lacks events before 5"):
        store.append(CASE.id, chosen(5))


def test_what_is_delivered_twice_is_kept_once(place):
    store = CaseStore(place)
    store.add_case(CASE)
    first, second = delivery_of(chosen(1)), delivery_of(chosen(2))
    store.deliver(CASE.id, [first])
    store.deliver(CASE.id, [first])
    store.append(CASE.id, chosen(2, tooth=209))
    store.deliver(CASE.id, [first])
    with pytest.raises(BehindError):
        store.deliver(CASE.id, [first, second])
    assert store.delivered(CASE.id, [first, second]) == {first.id: (1,)}
    assert [each.sequence for each in store.load(CASE.id)[1]] == [1, 2]


def test_many_at_once_lose_nothing_and_double_nothing(place):
    CaseStore(place).add_case(CASE)

    def chart(tooth):
        store, seen = CaseStore(place), 0
        for _ in range(20):
            while True:
                try:
                    store.append(CASE.id, chosen(seen + 1, tooth=tooth))
                    seen += 1
                    break
                except BehindError as behind:
                    seen += len(behind.events)

    with ThreadPoolExecutor(4) as stations:
        list(stations.map(chart, (104, 208, 309, 404)))
    store = CaseStore(place)
    _, events = store.load(CASE.id)
    assert [each.sequence for each in events] == list(range(1, 81))
    assert (
        sorted(each.what.tooth for each in events)
        == [104] * 20 + [208] * 20 + [309] * 20 + [404] * 20
    )
    assert store.as_kept(CASE.id).hashes == tuple(hashes_of(CASE, events))


def test_a_store_may_be_made_by_several_at_once(place):
    with ThreadPoolExecutor(4) as several:
        stores = list(several.map(lambda _: CaseStore(place), range(4)))
    stores[0].add_case(CASE)
    assert [store.load(CASE.id) for store in stores] == [(CASE, ())] * 4


def test_who_waited_while_a_store_was_made_sees_that_it_is_there(database, monkeypatch):
    upgrade, made = migrate._upgrade, []
    monkeypatch.setattr(migrate, "_upgrade", lambda db, version: made.append(version))
    waiting = text("SELECT count(*) FROM pg_locks WHERE NOT granted")
    with ThreadPoolExecutor(1) as other, create_engine(database).begin() as db:
        db.exec_driver_sql(f"SELECT pg_advisory_xact_lock({migrate._LOCK})")
        opened = other.submit(CaseStore, database)
        while not db.scalar(waiting):
            time.sleep(0.01)
        upgrade(db, None)
        db.commit()
        opened.result().close()
    assert made == []


def test_who_opens_a_store_waits_while_another_makes_it(database):
    hurried = f"{database}&options=-c%20lock_timeout%3D100"
    with ThreadPoolExecutor(1) as other, create_engine(database).begin() as db:
        db.exec_driver_sql(f"SELECT pg_advisory_xact_lock({migrate._LOCK})")
        opened = other.submit(CaseStore, hurried)
        time.sleep(0.5)
        db.commit()
        assert opened.result().search(query_of("")).total == 0


def test_cases_that_are_begun_at_the_same_moment_have_ids_of_their_own(place, monkeypatch):
    here, there = CaseStore(place), CaseStore(place)
    fresh_id, times = CaseStore.fresh_id, []

    def overtaken(store, opened, species, not_these):
        case_id = fresh_id(store, opened, species, not_these)
        times.append(case_id)
        if len(times) == 1:
            there.add_case(CASE.model_copy(update={"id": case_id}))
        return case_id

    monkeypatch.setattr(CaseStore, "fresh_id", overtaken)
    case = keep_new_case(here, {"species": "dog", "animal": "Brindle"})
    assert times[1:] == [case.id]
    assert {each.case.id for each in here.cases()} == set(times)


def test_a_station_that_was_put_to_sleep_keeps_no_case_from_others(database, monkeypatch):
    store = CaseStore(database)
    store.add_case(CASE)
    monkeypatch.setattr("dictate.store.cases.ALONE_MS", 100)
    with store.alone(CASE.id) as alone:
        CaseStore(database).append(CASE.id, chosen(1))
        with pytest.raises(StoreAwayError):
            alone.deliver([delivery_of(chosen(1))])
    assert len(store.load(CASE.id)[1]) == 1


def test_a_station_keeps_one_connection(database):
    store = CaseStore(database)
    store.add_case(CASE)
    with ThreadPoolExecutor(3) as several:
        list(several.map(lambda _: store.load(CASE.id), range(30)))
    there = (
        "SELECT count(*) FROM pg_stat_activity WHERE application_name = 'dictate'"
        " AND datname = current_database()"
    )
    with store._engine.connect() as db:
        assert db.exec_driver_sql(there).scalar_one() == 1


@pytest.mark.parametrize("tables", [OLD_TABLES, SECOND_TABLES], ids=["first", "second"])
def test_an_old_file_is_brought_up_to_date_and_a_copy_kept_aside(tmp_path, tables):
    path = tmp_path / "cases.sqlite"
    session = old_file(path, tables)
    store = CaseStore(path)
    assert store.load(CASE.id) == (CASE, session.events)
    assert store.search(query_of("brindle")).total == 1
    assert set(store.as_kept(CASE.id).hashes) == {None}
    (copy,) = tmp_path.glob("cases-before-????-??-??.sqlite")
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    with sqlite3.connect(copy) as db:
        assert db.execute("select count(*) from events").fetchone() == (len(session.events),)
        assert "hash" not in [row[1] for row in db.execute("pragma table_info(events)")]
    CaseStore(path)
    assert list(tmp_path.glob("cases-before*.sqlite")) == [copy]


def test_after_an_old_part_the_chain_goes_on(tmp_path):
    path = tmp_path / "cases.sqlite"
    old = old_file(path, SECOND_TABLES)
    store = CaseStore(path)
    session = Session(
        CASE, spoken_languages(), old.events, save=lambda new: store.append(CASE.id, new)
    )
    session.type_text("309 calculus 1")
    hashes = store.as_kept(CASE.id).hashes
    before = len(old.events)
    assert hashes[:before] == (None,) * before
    assert hashes[before:] == tuple(hashes_of(CASE, session.events))[before:]


def test_the_tables_are_what_the_program_takes_them_for(place):
    store = CaseStore(place)
    with store._engine.connect() as db:
        assert compare_metadata(MigrationContext.configure(db), Base.metadata) == []


def test_every_version_has_its_migration():
    script = ScriptDirectory(str(migrate.Path(migrate.__file__).with_name("migrations")))
    found = [each.revision for each in script.walk_revisions()]
    assert tuple(reversed(found)) == VERSIONS


def test_a_store_of_a_newer_version_is_refused(place):
    CaseStore(place)
    engine = create_engine(address_of(place).url)
    with engine.begin() as db:
        db.exec_driver_sql("UPDATE alembic_version SET version_num = '99'")
    engine.dispose()
    with pytest.raises(DictateError, match=r"newer dictate \(version 99 .* use a newer dictate"):
        CaseStore(place)


def test_a_file_that_cannot_be_copied_stays_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "cases.sqlite"
    old_file(path, SECOND_TABLES)

    def fails(*_arguments):
        raise OSError("no space left on device")

    monkeypatch.setattr(migrate.os, "open", fails)
    with pytest.raises(DictateError, match="no copy of it could be kept aside"):
        CaseStore(path)
    with sqlite3.connect(path) as db:
        assert "hash" not in [row[1] for row in db.execute("pragma table_info(events)")]
    assert list(tmp_path.glob("cases-before*")) == []


def test_a_migration_that_fails_midway_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "cases.sqlite"
    session = old_file(path, OLD_TABLES)

    def fails(*_arguments, **_named):
        raise OSError("pulled out")

    monkeypatch.setattr("alembic.operations.Operations.create_index", fails)
    with pytest.raises(DictateError, match="pulled out"):
        CaseStore(path)
    monkeypatch.undo()
    with sqlite3.connect(path) as db:
        assert {row[0] for row in db.execute("select name from sqlite_master where type='table'")
                } == {"cases", "events"}  # fmt: skip
    assert CaseStore(path).load(CASE.id)[1] == session.events


@pytest.mark.parametrize(
    "text",
    [
        "postgresql://host",
        "mysql://u:secret@h/d",
        "sqlite://",
        "u:secret@h",
        "postgresql://u:secret@h:x/d",
    ],
)
def test_an_address_that_cannot_be_is_refused_without_its_password(text):
    with pytest.raises(DictateError, match="practice's database") as refused:
        address_of(text)
    assert "secret" not in str(refused.value)


def test_a_database_that_does_not_answer_is_named_without_its_password(postgres):
    away = postgres.url("postgres").replace("dictate-pg", "dictate-none")
    with pytest.raises(StoreAwayError, match="check that it runs") as refused:
        CaseStore(away)
    assert "pass" not in str(refused.value)


def test_a_wrong_password_is_not_told(postgres, database):
    wrong = address_of(database).url.set(password="swordfish")
    with pytest.raises(DictateError, match="password authentication failed") as refused:
        CaseStore(wrong.render_as_string(hide_password=False))
    assert "swordfish" not in str(refused.value)


def test_the_password_may_stand_in_a_file_of_its_own(postgres, database, tmp_path, monkeypatch):
    """libpq: the password file, PostgreSQL 15 documentation, section 34.16."""
    file = tmp_path / "pgpass"
    escaped = PASSWORD.replace("\\", "\\\\").replace(":", "\\:")
    file.write_text(f"*:*:*:dictate:{escaped}\n")
    file.chmod(0o600)
    monkeypatch.setenv("PGPASSFILE", str(file))
    url = address_of(database).url.set(password=None)
    CaseStore(url.render_as_string(hide_password=False)).add_case(CASE)


def test_settings_name_the_database_and_never_show_its_password(
    postgres, database, tmp_path, monkeypatch
):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    (tmp_path / "settings.toml").write_text(f'[store]\nurl = "{database}"\n')
    assert read_settings().store.url == database
    CaseStore(database).add_case(CASE)
    run = CliRunner()
    assert "Brindle" in run.invoke(cli.app, ["cases"]).output
    printed = run.invoke(cli.app, ["settings"]).output
    assert "postgresql+psycopg://dictate:***@/cases-" in printed
    assert "word" not in printed.split("[store]")[1].split("#")[0]
    monkeypatch.setenv("DICTATE_STORE", f"sqlite:///{tmp_path}/other.sqlite")
    assert "Brindle" not in run.invoke(cli.app, ["cases"]).output
    assert (tmp_path / "other.sqlite").exists()


def test_a_wrong_setting_is_refused_without_being_shown(tmp_path):
    (tmp_path / "settings.toml").write_text('[store]\nurl = "u:secret word@h"\n')
    with pytest.raises(DictateError, match=r"store\.url cannot be what it is") as refused:
        read_settings(tmp_path)
    assert "secret" not in str(refused.value)


@pytest.mark.parametrize(
    "text, shown",
    [
        ("", ""),
        ("postgresql://u:secret@h/d", "postgresql://u:***@h/d"),
        ("postgresql://u@h/d?password=secret&x=1", "postgresql://u@h/d?password=%2A%2A%2A&x=1"),
        ("u:secret@h", "***"),
    ],
)
def test_an_address_is_shown_without_its_password(text, shown):
    assert hidden_address(text) == shown
