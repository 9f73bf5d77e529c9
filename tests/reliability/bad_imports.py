"""Damaged and lying files through the commands that take them in: import, restore, settings.

Besides damage, files are forged: the events of a visit and some more, mostly of what cannot be, are
written as dictate writes them, so that every digest and every hash in them is right. Only the rules
of the chart stand between them and a record.
"""

from __future__ import annotations

import io
import json
import os
import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout, suppress
from datetime import timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

from dictate import cli
from dictate.assessment.proposals import proposal_rows
from dictate.backup.write import write_backup
from dictate.chart.case import Case
from dictate.chart.events import (
    Charted,
    Closed,
    Decided,
    DentitionChosen,
    Event,
    Happening,
    Heard,
    Noted,
    Observed,
    Reopened,
)
from dictate.chart.finding import SITES, Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation, observation_kinds
from dictate.errors import DictateError
from dictate.exchange.bundle import bundle_data
from dictate.exchange.codes import DIGEST, FINDINGS, TEETH, TERMS
from dictate.exchange.sameness import digest_of
from dictate.folders import OTHERS
from dictate.report.record import Record, _with_digest, json_text, record_of
from dictate.settings import SETTINGS_FILE
from dictate.store.cases import CaseStore
from dictate.text import harmless
from tests.backups import NOW, altered, files, filled, rows, source_in
from tests.case_store import keep
from tests.fhir_visits import SAID, record
from tests.reliability.damage import damaged, damaged_json
from tests.reliability.untruths import untruths

HERE = "here-1"
"""The case that stands in the data folder before anything is imported."""


class UntrueChartError(Exception):
    """Something stands in the data that must not."""


def command(home: Path, *arguments: str) -> None:
    """Run a command on a data folder, in this process. Raises DictateError with the sentence that
    it ends with, and whatever would reach a user as a traceback."""
    told, code = io.StringIO(), None
    mask = os.umask(OTHERS)
    with (
        patch.dict(os.environ, {"DICTATE_DATA": str(home)}),
        patch.object(sys, "argv", ["dictate", *arguments]),
        patch.object(sys, "stdin", io.StringIO()),
        redirect_stdout(io.StringIO()),
        redirect_stderr(told),
    ):
        os.environ.pop("DICTATE_STORE", None)
        try:
            cli.main()
        except SystemExit as ended:
            code = ended.code
        finally:
            os.umask(mask)
    if code:
        check_sentence(code, told.getvalue())
        raise DictateError(told.getvalue().strip())


def check_sentence(code: object, told: str) -> None:
    """Raise AssertionError unless a command ended as one that refuses in a sentence of one line
    that can be read; what `verify` finds altered (exit code 1) may take several."""
    if (
        code not in (1, 2)
        or "Traceback" in told
        or _is_unseen(told)
        or not told.strip()
        or len(told) > 1000
    ):
        raise AssertionError(f"exit code {code}: {told[-300:]!r}")
    if code == 2 and told.count("\n") != 1:
        raise AssertionError(f"not one line: {told[-300:]!r}")


def _is_unseen(text: str) -> bool:
    return any(harmless(line) != line for line in text.split("\n"))


@cache
def _store_with_a_case() -> bytes:
    with tempfile.TemporaryDirectory() as name:
        store = source_in(Path(name) / "data").store
        keep(store, HERE, 3, "208 pocket 5 mesial", "304 missing")
        store.close()
        return (Path(name) / "data" / "cases.sqlite").read_bytes()


def fresh_home(folder: Path) -> Path:
    """Return a data folder with one case in it."""
    home = folder / "data"
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir(mode=0o700)
    (home / "cases.sqlite").write_bytes(_store_with_a_case())
    return home


def _taken_in(home: Path, *arguments: str) -> list[tuple[Case, tuple[Event, ...]]]:
    """Run a command that takes cases in; return the new ones. Raises UntrueChartError where what
    was there has changed, where a refusal left anything, and where a case cannot be."""
    before = rows(home), files(home)
    try:
        command(home, *arguments)
    except DictateError:
        if (rows(home), files(home)) != before:
            raise UntrueChartError("refused, but something of it is here") from None
        raise
    after = rows(home)
    if any(row not in new for old, new in zip(before[0], after, strict=True) for row in old):
        raise UntrueChartError("what was here is not as it was")
    store = CaseStore(home / "cases.sqlite")
    ids = [each.case.id for each in store.cases() if each.case.id != HERE]
    taken = [store.load(each) for each in ids]
    store.close()
    for case, events in taken:
        wrong = untruths(case, events)
        if wrong:
            raise UntrueChartError("; ".join(wrong))
    return taken


def bundle(data: bytes, folder: Path) -> None:
    """Import a FHIR bundle. What is taken must be what stands in it, to the last finding; where its
    digest is that of a good one, it must be the good one."""
    path = folder / "case.fhir.json"
    path.write_bytes(data)
    ((case, events),) = _taken_in(fresh_home(folder), "import", str(path))
    found = record_of(case, events)
    given = json.loads(data.decode("utf-8-sig"), parse_float=Decimal)
    stated = Counter(_stated(each["resource"]) for each in given["entry"])
    del stated[None]
    charted = Counter((each.tooth, each.kind, str(each.value)) for each in found.findings)
    if stated != charted:
        raise UntrueChartError(f"stated {stated - charted}, charted {charted - stated}")
    for text in _texts([each.model_dump(mode="json") for each in (case, *events)]):
        if _is_unseen(text):
            raise UntrueChartError(f"it holds what is not seen: {text[:80]!r}")
    good = _good_bundles().get(_digest(given))
    if good is not None and _standing(found) != _standing(good):
        raise UntrueChartError("the digest of a good one, and another chart")


def _texts(data: Any) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    for part in data.values() if isinstance(data, dict) else data if isinstance(data, list) else ():
        yield from _texts(part)


def _stated(resource: dict[str, Any]) -> tuple[int, str, str] | None:
    """Return tooth, kind and value that a resource states; None where it is no finding."""
    kinds = [
        each["code"]
        for each in resource.get("code", {}).get("coding", ())
        if each.get("system") == FINDINGS
    ]
    if not kinds:
        return None
    site = resource["bodySite"]
    site = site[0] if isinstance(site, list) else site
    (tooth,) = (each["code"] for each in site["coding"] if each["system"] == TEETH)
    held = resource.get("valueCodeableConcept", resource["code"])["coding"]
    terms = [each["code"].split(".", 1)[1] for each in held if each.get("system") == TERMS]
    value = resource.get("valueInteger", resource.get("valueQuantity", {}).get("value"))
    if isinstance(value, Decimal):
        value = int(value) if value == int(value) else float(value)
    return int(tooth), kinds[0], str(terms[0] if terms else value)


def _standing(of: Record) -> tuple[Any, ...]:
    notes = [(each.text, each.tooth, each.verified) for each in of.notes]
    return of.case, of.findings, of.observations, notes, of.decisions, of.chart.closed


def _digest(data: Any) -> str:
    return next(each["code"] for each in data["meta"]["tag"] if each["system"] == DIGEST)


def record_file(data: bytes, folder: Path) -> None:
    """Import a record, and verify it. What is taken must be sound."""
    path = folder / "record.json"
    path.write_bytes(data)
    home = fresh_home(folder)
    with suppress(DictateError):
        command(home, "verify", str(path))
    _taken_in(home, "import", str(path))


def backup(data: bytes, folder: Path) -> None:
    """Restore a backup."""
    path = folder / "backup.zip"
    path.write_bytes(data)
    _taken_in(fresh_home(folder), "restore", str(path))


def settings_file(data: bytes, folder: Path) -> None:
    """Print the settings in force."""
    home = folder / "data"
    home.mkdir(mode=0o700, exist_ok=True)
    (home / SETTINGS_FILE).write_bytes(data)
    command(home, "settings")


@cache
def good_records() -> tuple[Record, ...]:
    """Return visits from which files are made: of some findings, a whole one, the same closed, and
    one of a cat."""
    few = record("208 pocket 6 mesial furcation 2", "left tonsil enlarged", "note: calm")
    closed = record(*SAID, "close the chart", "yes")
    cat = record(
        "108 resorption 4a", "304 missing", "204 normal", "109 calculus 2", species="cat",
        weight_kg=4.0, animal="Mila",
    )  # fmt: skip
    return few, record(*SAID), closed, cat


@cache
def _good_bundles() -> dict[str, Record]:
    return {_digest(bundle_data(each)): each for each in good_records()}


def bundle_seeds() -> tuple[bytes, ...]:
    """Return good bundles."""
    return tuple(json.dumps(bundle_data(each)).encode() for each in good_records())


def record_seeds() -> tuple[bytes, ...]:
    """Return good records."""
    return tuple(json_text(each, "record.json").encode() for each in good_records())


@cache
def backup_seeds() -> tuple[bytes, ...]:
    """Return a good backup of all kinds of things, and one of a single case."""
    with tempfile.TemporaryDirectory() as name:
        whole, few = Path(name) / "whole.zip", Path(name) / "few.zip"
        write_backup(whole, filled(Path(name) / "whole"), NOW, with_key=True)
        source = source_in(Path(name) / "few")
        keep(source.store, "mila-1", 4, "208 calculus 1 pocket 4 mesial", "404 missing")
        write_backup(few, source, NOW)
        return whole.read_bytes(), few.read_bytes()


def damaged_bundle(good: bytes, others: tuple[bytes, ...], chance: random.Random) -> bytes:
    """Return a bundle with damage to its bytes or to its structure, mostly with a digest that is
    right all the same; or one that was forged."""
    how = chance.randrange(8)
    if how == 0:
        return damaged(good, others, chance)
    if how < 4:
        return json.dumps(bundle_data(forged(chance))).encode()
    try:
        data = damaged_json(json.loads(good), chance)
    except ValueError:
        return damaged(good, others, chance)
    if how < 7:
        with suppress(Exception):
            entries = json.loads(json.dumps(data["entry"]), parse_float=Decimal)
            tag = next(each for each in data["meta"]["tag"] if each["system"] == DIGEST)
            tag["code"] = digest_of(each["resource"] for each in entries)
    return json.dumps(data).encode()


def damaged_record(good: bytes, others: tuple[bytes, ...], chance: random.Random) -> bytes:
    """Return a record that was damaged or forged likewise."""
    how = chance.randrange(8)
    if how == 0:
        return damaged(good, others, chance)
    if how < 4:
        return json_text(forged(chance), "record.json").encode()
    try:
        data = damaged_json(json.loads(good), chance)
    except ValueError:
        return damaged(good, others, chance)
    if how < 7 and isinstance(data, dict) and "digest" in data:
        data["digest"] = ""
        with suppress(ValueError):
            return _with_digest(json.dumps(data)).encode()
    return json.dumps(data).encode()


def damaged_backup(good: bytes, others: tuple[bytes, ...], chance: random.Random) -> bytes:
    """Return a backup with damage to its bytes, or to what it holds with a manifest that fits; or
    one of a store with a forged case."""
    how = chance.randrange(8)
    if how < 3:
        return damaged(good, others, chance)
    with tempfile.TemporaryDirectory() as name:
        path, to = Path(name) / "backup.zip", Path(name) / "altered.zip"
        if how == 3:
            source = source_in(Path(name) / "data")
            of = forged(chance)
            source.store.add_case(of.case, of.events)
            with suppress(DictateError):  # a case that no store can give back
                write_backup(to, source, NOW)
            source.store.close()
            return to.read_bytes() if to.exists() else b""
        path.write_bytes(good)

        def change(members: dict[str, bytes]) -> None:
            member = chance.choice(list(members))
            if member.endswith(".json") and chance.randrange(3):
                members[member] = damaged_record(members[member], others, chance)
            elif member != "manifest.json" and not chance.randrange(4):
                members[chance.choice(("../x", "cases/here-1.json", member + "x"))] = members.pop(
                    member
                )
            else:
                members[member] = damaged(members[member], tuple(members.values()), chance)

        try:
            return altered(path, to, change).read_bytes()
        except Exception:  # the manifest itself was damaged, or no archive was given
            return damaged(good, others, chance)


def forged(chance: random.Random) -> Record:
    """Return a visit with some more events, most of which cannot be; all that follows from the
    events, digests and hashes too, is as dictate makes it."""
    while True:
        of = chance.choice(good_records())
        events = list(of.events)
        for _ in range(chance.choice((1, 1, 1, 2, 3))):
            number = len(events) + 1
            time = events[-1].time + timedelta(seconds=7)
            said = Heard(text="…", outcome="charted")
            what = _happening(of, chance)
            events.append(Event(sequence=number, utterance=number, time=time, what=said))
            events.append(Event(sequence=number + 1, utterance=number, time=time, what=what))
        case = of.case
        if not chance.randrange(6):
            case = case.model_copy(update={"species": "cat" if case.species == "dog" else "dog"})
        # What follows from events that cannot be need not be possible to work out or to write.
        with suppress(Exception):
            made = record_of(case, events)
            json.dumps(bundle_data(made))
            json_text(made, "record.json")
            return made


def _happening(of: Record, chance: random.Random) -> Happening:
    tooth = _tooth(of, chance)
    match chance.randrange(12):
        case 0 | 1 | 2:
            return Observed(observations=(_observation(of, chance),))
        case 3:
            return Noted(text=chance.choice(("calm", "\u202ewell", "x\ny")), tooth=tooth)
        case 4:
            rule = chance.choice([*proposal_rows(), "extract_all"])
            return Decided(tooth=tooth, rule=rule, decision="accepted")
        case 5:
            return chance.choice((Closed(by="x"), Reopened(), DentitionChosen(dentition="mixed")))
        case _:
            return Charted(findings=(_finding(of, chance),))


def _tooth(of: Record, chance: random.Random) -> int:
    standing = [each.tooth for each in of.findings]
    any_number = chance.randrange(1, 9) * 100 + chance.randrange(1, 12)
    return chance.choice((any_number, chance.choice(standing), chance.choice((0, -8, 999, 212))))


def _finding(of: Record, chance: random.Random) -> Finding:
    row = chance.choice(list(finding_kinds().values()))
    values: Sequence[Any] = [*row.terms] or [row.least, row.top(of.case.index_scale)]
    if row.value == "none":
        values = [None]
    if not chance.randrange(3):
        values = [-1, 0, 2.5, 5, 21, 101, 10**9, 1e-9, float("inf"), "CCF", "", None]
    return Finding(
        tooth=_tooth(of, chance),
        kind=row.kind,
        value=chance.choice(values),
        unit=row.unit if chance.randrange(6) else chance.choice((None, "mm", "%", "cm")),
        site=chance.choice((None, None, *sorted(SITES))) if row.sited or chance.random() < 0.1
        else None,
    )  # fmt: skip


def _observation(of: Record, chance: random.Random) -> Observation:
    row = chance.choice(list(observation_kinds().values()))
    values: Sequence[Any] = [*row.terms] or ([None] if row.value == "none" else [0, 2, 3])
    if not chance.randrange(4):
        values = [-1, 5, 99, "normal", "odd", None]
    size = chance.choice(((), (), (5.0,), (5.0, 7.0), (-1.0,), (0.0, 9e9), (1.0, 2.0, 3.0)))
    return Observation(
        kind=row.kind,
        value=chance.choice(values),
        place=chance.choice((None, *row.places, "left", "tail")),
        tooth=chance.choice((None, None, _tooth(of, chance))),
        size_mm=size if row.size or not chance.randrange(6) else (),
        colour=chance.choice((None, None, *row.colours, "loud")),
        agent=chance.choice((None, "bupivacaine")) if row.agents else None,
        volume_ml=chance.choice((None, 0.5, -1.0, 21.0, 1e9)) if row.agents else None,
        covered=not chance.randrange(10),
    )
