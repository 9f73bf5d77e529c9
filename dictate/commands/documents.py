"""The commands that print for others: a letter of referral and a sheet for the owner."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dictate.cases.stored import case_store
from dictate.documents.practice import Practice, paper_named, read_practice
from dictate.errors import DictateError
from dictate.report.paper import Paper
from dictate.terminal import say

if TYPE_CHECKING:
    from dictate.documents.draft import Block, Draft, Kind
    from dictate.report.record import Record

OutOption = Annotated[Path, typer.Option("--out", help="Folder for the files.")]
PaperOption = Annotated[
    str | None, typer.Option("--paper", help="a4 or letter; else as practice.toml says, or a4.")
]
DraftOption = Annotated[
    Path | None,
    typer.Option("--draft", help="Write the text into this new file, to edit it; print nothing."),
]
FromOption = Annotated[
    Path | None, typer.Option("--from", help="Print the edited text of this file.")
]
AlthoughOption = Annotated[
    bool,
    typer.Option("--although-changed", help="With --from: the text holds, though the case grew."),
]


def letter(
    case: str,
    to: Annotated[str, typer.Option("--to", help="To whom the letter goes.")] = "",
    why: Annotated[str, typer.Option("--why", help="Why you refer.")] = "",
    ask: Annotated[str, typer.Option("--ask", help="What you ask for.")] = "",
    out: OutOption = Path("out"),
    paper: PaperOption = None,
    draft: DraftOption = None,
    edited: FromOption = None,
    although_changed: AlthoughOption = False,
) -> None:
    """Write a letter of referral of a case, as PDF and HTML.

    With --draft its text is written into a file that you edit, and with --from it is printed from
    there.
    """
    from dictate.documents.letter import Wanted, letter_blocks

    printing = _Printing("letter", case, out, paper)
    if edited is not None:
        _only_with_text(draft, to, why, ask)
        printing.print_edited(edited, although_changed)
        return
    if not to.strip():
        raise DictateError("Say with --to to whom the letter goes.")
    wanted = Wanted(to, why, ask, date.today())
    printing.write(letter_blocks(printing.record, wanted), draft)


def sheet(
    case: str,
    next_visit: Annotated[str, typer.Option("--next", help="When the next visit is.")] = "",
    out: OutOption = Path("out"),
    paper: PaperOption = None,
    draft: DraftOption = None,
    edited: FromOption = None,
    although_changed: AlthoughOption = False,
) -> None:
    """Write the sheet that the owner takes home, as PDF and HTML.

    With --draft its text is written into a file that you edit, and with --from it is printed from
    there.
    """
    from dictate.documents.owner_sheet import sheet_blocks

    printing = _Printing("sheet", case, out, paper)
    if edited is not None:
        _only_with_text(draft, next_visit)
        printing.print_edited(edited, although_changed)
        return
    printing.write(sheet_blocks(printing.record, printing.practice, next_visit), draft)


def _only_with_text(draft: Path | None, *told: str) -> None:
    """Raise DictateError where something is stated that the edited text already holds."""
    if draft is not None or any(told):
        raise DictateError(
            "--from prints the text of a file as it stands: change it there, and leave out the "
            "other words."
        )


class _Printing:
    """One document of one case, on its way to paper."""

    def __init__(self, kind: Kind, case: str, out: Path, paper: str | None) -> None:
        from dictate.report.record import record_of

        self.kind: Kind = kind
        self.out = out
        self.practice: Practice = read_practice()
        self.paper: Paper = paper_named(paper, self.practice)
        self.record: Record = record_of(*case_store().load(case))

    def write(self, blocks: list[Block], draft: Path | None) -> None:
        """Print the blocks, or write them into a new file to be edited."""
        from dictate.documents.draft import Draft, write_draft

        if draft is None:
            self._print(Draft(blocks))
            return
        write_draft(draft, self.kind, self.record, blocks)
        say(f"{draft}: edit it, then “dictate {self.kind} {self.record.case.id} --from {draft}”.")

    def print_edited(self, path: Path, although_changed: bool) -> None:
        """Print the text of a file."""
        from dictate.documents.draft import read_draft

        self._print(read_draft(path, self.kind, self.record, although_changed))

    def _print(self, draft: Draft) -> None:
        from dictate.documents.text_document import write_text_documents

        for path in write_text_documents(
            self.kind, self.record, draft, self.out, self.paper, self.practice
        ):
            say(path)
