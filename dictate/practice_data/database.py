"""The tables in DuckDB: in memory, for questions in SQL that can read nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dictate.errors import DictateError
from dictate.practice_data.collect import PracticeData
from dictate.practice_data.tables import TABLE_NAMES, Column, Row, columns_of
from dictate.text import harmless

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_CLOSED: dict[str, str | bool | int | float | list[str]] = {
    "enable_external_access": "false",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
    "temp_directory": "",
    "memory_limit": "2GB",
}
"""No files, no network, no extensions, nothing written to disk where memory is short."""

_AT_ONCE = 20_000


@dataclass(frozen=True)
class Answer:
    """What a question came to; `more` where rows were left out beyond the limit."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    more: bool


@contextmanager
def database(data: PracticeData, closed: bool = True) -> Iterator[DuckDBPyConnection]:
    """Give a connection to the tables; a `closed` one reads and writes nothing else, and cannot be
    opened again."""
    import duckdb

    with duckdb.connect(":memory:", config=_CLOSED if closed else {}) as db:
        # Otherwise a table that is not there would be looked for among the variables of Python.
        db.execute("SET python_enable_replacements = false")
        for table in TABLE_NAMES:
            _fill(db, table, columns_of(table, data.with_identity), data.tables[table])
        if closed:
            db.execute("SET lock_configuration = true")
        yield db


def asked(data: PracticeData, question: str, limit: int) -> Answer:
    """Return the first `limit` rows of what a SELECT comes to. Raises DictateError with a sentence
    where it is no single SELECT, or cannot be answered."""
    import duckdb

    with database(data) as db:
        try:
            statements = db.extract_statements(question)
            if [each.type for each in statements] != [duckdb.StatementType.SELECT]:
                raise DictateError("Ask with one SELECT: nothing else is taken.")
            found = db.execute(statements[0])
            columns = tuple(each[0] for each in found.description or ())
            rows = found.fetchmany(limit + 1)
        except duckdb.Error as error:
            lines = str(error).strip().splitlines() or ["no reason is given"]
            raise DictateError(
                f"That cannot be answered: {harmless(lines[0])} (docs/practice_data.md has the "
                "tables.)"
            ) from error
    return Answer(columns, tuple(rows[:limit]), len(rows) > limit)


def _fill(
    db: DuckDBPyConnection, table: str, columns: Sequence[Column], rows: Sequence[Row]
) -> None:
    described = ", ".join(f'"{each.name}" {each.type}' for each in columns)
    db.execute(f"CREATE TABLE {table} ({described})")
    lists = ", ".join(f"unnest(?::{each.type}[])" for each in columns)
    for start in range(0, len(rows), _AT_ONCE):
        by_column = list(zip(*rows[start : start + _AT_ONCE], strict=True))
        db.execute(f"INSERT INTO {table} SELECT {lists}", [list(each) for each in by_column])
