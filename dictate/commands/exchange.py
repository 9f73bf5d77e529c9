"""The commands that exchange cases with other programs: export, import."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dictate.cases.stored import case_store
from dictate.errors import DictateError
from dictate.terminal import say

_MOST_PDF_BYTES = 20_000_000


def export(
    case: str,
    fhir: Annotated[Path, typer.Option("--fhir", help="The FHIR bundle to write, as JSON.")],
    pdf: Annotated[
        Path | None, typer.Option("--pdf", help="The case's page as a PDF, to go with it.")
    ] = None,
) -> None:
    """Write a case as an HL7 FHIR R4B bundle: docs/exchange.md says what it carries."""
    from dictate.exchange.bundle import write_bundle
    from dictate.report.record import record_of

    record = record_of(*case_store().load(case))
    write_bundle(record, fhir, None if pdf is None else _pdf_bytes(pdf))
    say(fhir)


def import_case(
    file: Annotated[Path, typer.Argument(help="A record (record.json) or a FHIR bundle.")],
) -> None:
    """Add a case from a record or a FHIR bundle that dictate made; never over a case."""
    from dictate.exchange.files import read_case

    record, store = read_case(file), case_store()
    if any(each.case.id == record.case.id for each in store.cases()):
        raise DictateError(f"Case {record.case.id} is here already and is left as it is.")
    store.add_case(record.case, record.events)
    say(
        f"Case {record.case.id} is imported, with {len(record.findings)} findings: "
        f"“dictate chart {record.case.id}” opens it."
    )


def _pdf_bytes(path: Path) -> bytes:
    """Return a PDF. Raises DictateError when it cannot be read, is too large or is none."""
    try:
        if path.stat().st_size > _MOST_PDF_BYTES:
            most = _MOST_PDF_BYTES // 1_000_000
            raise DictateError(f"{path.name} is larger than {most} MB: attach a smaller page.")
        data = path.read_bytes()
    except OSError as error:
        raise DictateError(
            f"{path.name} could not be read ({error.strerror}): check its name and place."
        ) from error
    if not data.startswith(b"%PDF-"):
        raise DictateError(f"{path.name} is no PDF: attach one, or leave --pdf out.")
    return data
