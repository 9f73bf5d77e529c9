"""All reports of an examination at once."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from dictate.documents.practice import Practice
from dictate.documents.printed_record import record_pdf
from dictate.history.progression import AnimalHistory
from dictate.report.csv_table import write_csv
from dictate.report.observation_table import write_observations
from dictate.report.page import html_page
from dictate.report.paper import Paper
from dictate.report.private_file import made_folder, write_private
from dictate.report.record import Record, write_json


def write_reports(
    record: Record,
    folder: Path,
    generated: datetime | None = None,
    paper: Paper = "a4",
    practice: Practice | None = None,
    history: AnimalHistory | None = None,
) -> list[Path]:
    """Write record.json, findings.csv, observations.csv, record.html and record.pdf into a folder
    and return their paths. A folder that is not there is made for its owner only (mode 0700); the
    files are mode 0600.

    Raises DictateError when the folder or a file cannot be written.
    """
    made_folder(folder)
    names = ("record.json", "findings.csv", "observations.csv", "record.html", "record.pdf")
    paths = [folder / name for name in names]
    write_json(record, paths[0])
    write_csv(record, paths[1])
    write_observations(record, paths[2])
    write_private(paths[3], html_page(record, generated, paper, history))
    write_private(paths[4], record_pdf(record, paper, practice, history))
    return paths
