"""How long it takes to write the report of a full mouth: every tooth with depths and findings.

Prints the first, the median and the worst of several runs in s, the median of the processor time,
and the same of each document alone. The first run loads templates and fonts, as a command does.
Run: python -m tests.benchmarks.report
"""

import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

from dictate.chart.case import Case
from dictate.chart.events import Charted, Event, Heard
from dictate.chart.finding import SIX_SITES, Finding
from dictate.documents.draft import Draft
from dictate.documents.letter import Wanted, letter_blocks
from dictate.documents.owner_sheet import sheet_blocks
from dictate.documents.practice import Practice
from dictate.documents.printed_record import record_pdf
from dictate.documents.reports import write_reports
from dictate.documents.text_document import text_pdf
from dictate.report.page import html_page
from dictate.report.record import Record, record_of

OPENED = datetime(2026, 5, 4, 10, 2, tzinfo=UTC)
RUNS = 15


def full_mouth() -> Record:
    """Return a dog's mouth in which every tooth has six depths, indices and a treatment."""
    case = Case(id="full-mouth", species="dog", opened=OPENED, animal="Odo", clinician="A. Lind")
    teeth = case_teeth(case)
    events: list[Event] = []
    for tooth in teeth:
        number = len(events) + 1
        said = Heard(text=f"{tooth} and all of it", outcome="charted", engine="sphinx", score=0.9)
        for what in (said, Charted(findings=tuple(findings(tooth)))):
            events.append(Event(sequence=len(events) + 1, utterance=number, time=OPENED, what=what))
    return record_of(case, events)


def case_teeth(case: Case) -> tuple[int, ...]:
    return record_of(case, []).chart.expected_teeth


def findings(tooth: int) -> list[Finding]:
    depths = [
        Finding(tooth=tooth, kind="pocket", value=2 + (tooth + place) % 4, unit="mm", site=site)
        for place, site in enumerate(SIX_SITES)
    ]
    grades = [
        Finding(tooth=tooth, kind=kind, value=1 + tooth % 3)
        for kind in ("calculus", "plaque", "gingivitis", "mobility")
    ]
    done = [Finding(tooth=tooth, kind=kind) for kind in ("scaled", "polished")]
    return [*depths, *grades, *done]


def timed(name: str, work: Callable[[], object]) -> None:
    times, worked = [], []
    for _ in range(RUNS):
        start, start_work = perf_counter(), process_time()
        work()
        times.append(perf_counter() - start)
        worked.append(process_time() - start_work)
    print(
        f"{name:28} first {times[0]:.3f} (processor {worked[0]:.3f})  median {median(times):.3f}  "
        f"worst {max(times):.3f}  processor {median(worked):.3f} s"
    )


def main() -> None:
    record, practice = full_mouth(), Practice()
    letter = Draft(letter_blocks(record, Wanted("A colleague", "Advice", "", date(2026, 5, 5))))
    sheet = Draft(sheet_blocks(record, practice))
    with tempfile.TemporaryDirectory() as folder:
        timed("the whole report, five files", lambda: write_reports(record, Path(folder), OPENED))
    timed("record.html", lambda: html_page(record, OPENED))
    timed("record.pdf", lambda: record_pdf(record))
    timed("letter.pdf", lambda: text_pdf("letter", record, letter, "a4", practice, None))
    timed("sheet.pdf", lambda: text_pdf("sheet", record, sheet, "a4", practice, None))


if __name__ == "__main__":
    main()
