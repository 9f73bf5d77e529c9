"""`dictate report`: the record of a case as files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dictate.cases.stored import case_store, clip_store
from dictate.commands.documents import PaperOption
from dictate.documents.practice import paper_named, read_practice
from dictate.terminal import say


def report(
    case: str,
    out: Annotated[Path, typer.Option("--out", help="Folder for the files.")] = Path("out"),
    paper: PaperOption = None,
) -> None:
    """Write the record of a case: JSON, CSV, HTML and PDF, and the sound of its notes."""
    from dictate.cases.visits import earlier_history
    from dictate.documents.reports import write_reports
    from dictate.report.record import record_of

    store = case_store()
    record = record_of(*store.load(case))
    practice = read_practice()
    of_paper = paper_named(paper, practice)
    earlier = earlier_history(store, case)
    written = write_reports(record, out, paper=of_paper, practice=practice, history=earlier)
    clips = [note.clip for note in record.chart.notes if note.clip is not None]
    for path in (*written, *clip_store().copy(clips, out)):
        say(path)
