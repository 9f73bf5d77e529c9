"""Letters and sheets as PDF and as HTML, from the same blocks of text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment
from markupsafe import Markup

from dictate.documents.draft import Block, Draft, Kind
from dictate.documents.owner_drawing import CAPTION
from dictate.documents.owner_sheet import CALL_AT_ONCE, sheet_drawing, sheet_title
from dictate.documents.page_head import page_head
from dictate.documents.practice import Practice
from dictate.documents.typeset import TEMPLATES, pdf
from dictate.report.mouth.drawing import mouth_svg
from dictate.report.paper import CSS_SIZES, Paper
from dictate.report.private_file import made_folder, write_private
from dictate.report.record import Record
from dictate.report.standing import last_entry
from dictate.report.templating import page_environment

_NUMBERED = re.compile(r"([1-9][0-9]?): (.+)")
_EDITED = "The text of this page was edited by a person."


def text_pdf(kind: Kind, record: Record, draft: Draft, paper: Paper, practice: Practice) -> bytes:
    """Return a letter or a sheet as a PDF whose time is that of the last entry of the case.

    Raises DictateError where it cannot be typeset.
    """
    data = _data(kind, record, draft, practice) | {"paper": paper}
    return pdf(kind, data, _drawing(kind, record), last_entry(record))


def text_html(kind: Kind, record: Record, draft: Draft, paper: Paper, practice: Practice) -> str:
    """Return a letter or a sheet as one HTML page that needs nothing outside it."""
    data = _data(kind, record, draft, practice)
    # The drawing is written by ElementTree, which escapes every text in it.
    drawing = Markup(_drawing(kind, record))  # noqa: S704
    template = _environment().get_template("text.html.j2")
    return template.render(kind=kind, size=CSS_SIZES[paper], drawing=drawing, **data)


def write_text_documents(
    kind: Kind,
    record: Record,
    draft: Draft,
    folder: Path,
    paper: Paper = "a4",
    practice: Practice | None = None,
) -> list[Path]:
    """Write letter.pdf and letter.html, or sheet.pdf and sheet.html, into a folder and return
    their paths; folder and files are made as those of a report.

    Raises DictateError where the folder or a file cannot be written.
    """
    made_folder(folder)
    how = (kind, record, draft, paper, practice or Practice())
    paths = [folder / f"{kind}.pdf", folder / f"{kind}.html"]
    write_private(paths[0], text_pdf(*how))
    write_private(paths[1], text_html(*how))
    return paths


def _drawing(kind: Kind, record: Record) -> str:
    return mouth_svg(record.chart) if kind == "letter" else sheet_drawing(record)


def _data(kind: Kind, record: Record, draft: Draft, practice: Practice) -> dict[str, Any]:
    case, head = record.case, page_head(record, practice)
    letter = kind == "letter"
    return {
        **head,
        "title": f"Referral of {head['animal']}" if letter else sheet_title(case),
        "heading": "Letter of referral" if letter else "Sheet for the owner",
        "drawing_says": f"The teeth of the {case.species}, as the text describes them",
        "caption": "" if letter else CAPTION,
        "remark": _EDITED if draft.edited else "",
        "sections": _sections(draft.blocks),
    }


def _sections(blocks: Sequence[Block]) -> list[dict[str, Any]]:
    """Return a section for every heading (and what stands before the first), each with its runs of
    paragraphs, points and numbered points. A point that begins with a number and a colon is a
    numbered one. `urgent` is when to call at once."""
    sections: list[dict[str, Any]] = [{"heading": "", "urgent": False, "runs": []}]
    for block in blocks:
        if block.kind == "heading":
            urgent = block.text == CALL_AT_ONCE
            sections.append({"heading": block.text, "urgent": urgent, "runs": []})
            continue
        numbered = _NUMBERED.fullmatch(block.text) if block.kind == "point" else None
        kind = "numbered" if numbered else block.kind
        runs = sections[-1]["runs"]
        if not runs or runs[-1]["kind"] != kind:
            runs.append({"kind": kind, "items": []})
        number, text = numbered.groups() if numbered else ("0", block.text)
        runs[-1]["items"].append({"number": int(number), "text": text})
    return sections if sections[0]["runs"] else sections[1:]


@cache
def _environment() -> Environment:
    return page_environment(TEMPLATES)
