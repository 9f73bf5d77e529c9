"""Practice data as files: Parquet and CSV, and a text about what is in them."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from dictate.practice_data.collect import PracticeData, cautions
from dictate.practice_data.database import Answer, database
from dictate.practice_data.tables import TABLE_NAMES, columns_of, tables_text
from dictate.report.private_file import made_folder, write_private
from dictate.report.table import Cell, table_text


def write_tables(data: PracticeData, folder: Path, made: date) -> list[Path]:
    """Write each table as Parquet and CSV (see `table_text`), and about.txt, into a folder and
    return their paths; the files are mode 0600. Raises DictateError where that cannot be done."""
    made_folder(folder)
    written = []
    # DuckDB writes by the mode of the process: so into a folder of our own, then from there.
    with tempfile.TemporaryDirectory() as own, database(data, closed=False) as db:
        for table in TABLE_NAMES:
            parquet = Path(own) / f"{table}.parquet"
            db.table(table).write_parquet(str(parquet), compression="zstd")
            columns = [each.name for each in columns_of(table, data.with_identity)]
            text = table_text(
                columns, ([_cell(each) for each in row] for row in data.tables[table])
            )
            for name, content in ((parquet.name, parquet.read_bytes()), (f"{table}.csv", text)):
                written.append(folder / name)
                write_private(written[-1], content)
    written.append(folder / "about.txt")
    write_private(written[-1], _about(data, made))
    return written


def write_answer(answer: Answer, path: Path) -> None:
    """Write an answer as CSV, mode 0600; raises DictateError where that cannot be done."""
    write_private(path, table_text(answer.columns, (map(_cell, row) for row in answer.rows)))


def _cell(value: object) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if value is None or isinstance(value, str | int | float) else str(value)


def _about(data: PracticeData, made: date) -> str:
    counts = (f"{table}: {len(data.tables[table])} rows" for table in TABLE_NAMES)
    lines: Iterable[str] = (
        f"Practice data of dictate, made on {made}.",
        *counts,
        "",
        *cautions(data),
        "",
        tables_text(),
    )
    return "\n".join(lines)
