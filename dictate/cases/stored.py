"""The cases on disk, and the sessions that go on with them."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from dictate.chart.case import Case, entered_case
from dictate.chart.events import Event, Seal
from dictate.errors import CaseExistsError, DictateError
from dictate.folders import STORE_VARIABLE, data_folder, made_data_folder
from dictate.grammar.spoken import spoken_languages
from dictate.report.private_file import write_private
from dictate.session.session import Session, now_utc
from dictate.settings import read_settings
from dictate.terminal import say

if TYPE_CHECKING:
    from dictate.cases.shared_case import SharedCase
    from dictate.store.cases import CaseStore
    from dictate.store.clips import ClipStore
    from dictate.store.spool import Spool

_SPOOLS = "spool"
_ID_DIGITS = 32


def case_store(may_be_away: bool = False) -> CaseStore:
    """Return the cases of the practice's database, else those in the data folder; raises
    DictateError where they cannot be read. A database that `may_be_away` need not answer yet."""
    from dictate.store.cases import CaseStore

    store = CaseStore(store_place(), may_be_away)
    if store.is_shared and not may_be_away:
        deliver_what_waits(store)
    return store


def store_place() -> Path | str:
    """Return where cases are kept: the address that the environment variable DICTATE_STORE or the
    settings state, else a file in the data folder."""
    stated = os.environ.get(STORE_VARIABLE) or read_settings().store.url
    return stated or made_data_folder() / "cases.sqlite"


def clip_store() -> ClipStore:
    """Return the sounds of notes in the data folder."""
    from dictate.store.clips import ClipStore

    return ClipStore(made_data_folder() / "clips")


def keep_new_case(store: CaseStore, fields: Mapping[str, Any]) -> Case:
    """Keep a new case that is opened now, with an id that no other has, and return it; `fields` are
    what a person entered. Raises DictateError where one of them is wrong."""
    now = now_utc()
    while True:
        # A case that was lost may wait here, and gets its place back.
        case_id = store.fresh_id(now, fields["species"], cases_waiting())
        case = entered_case({"id": case_id, "opened": now, **fields})
        try:
            store.add_case(case)
        except CaseExistsError:
            # Another station began one at the same moment, and has that id now.
            continue
        return case


class StoredSession(Session):
    """A session whose case is in the store, where other stations may chart it too."""

    store: CaseStore
    shared: SharedCase

    def alone(self) -> AbstractContextManager[Sequence[Event]]:
        """Keep other stations from charting until the next utterance is kept."""
        return self.shared.alone()


def _sign(head: str, by: str, time: datetime) -> Seal:
    # Signing is loaded when a chart is closed, not at every start.
    from dictate.integrity.seal import signer

    return signer(made_data_folder())(head, by, time)


def load_case(store: CaseStore, case_id: str) -> tuple[Case, tuple[Event, ...]]:
    """Return a case and its events; where the practice's database is away, or a file lost the case,
    as they were known when it went and something was charted since. Raises DictateError where there
    is none."""
    from dictate.store.database import StoreAwayError

    try:
        return store.load(case_id)
    except DictateError as error:
        spool = _spool(case_id)
        is_gone = isinstance(error, StoreAwayError) or not store.is_shared
        if not (is_gone and spool.is_there):
            raise
        spooled = spool.read()
        return spooled.known.case, spooled.events


def stored_session(store: CaseStore, case: Case, events: Sequence[Event] = ()) -> StoredSession:
    """Return a session of a case in the store, whose events and clips are kept on disk. What waits
    to be delivered since the practice's database was away is delivered, or goes on waiting."""
    from dictate.cases.shared_case import SharedCase

    shared = SharedCase(store, case, _spool(case.id), station_id())
    opened = shared.open(events)
    station = station_id() if store.is_shared else ""
    keep_clip = clip_store().keeper(case.id, station) if read_settings().keep.note_sound else None
    session = StoredSession(
        case,
        spoken_languages(),
        opened.events,
        save=shared.save,
        keep_clip=keep_clip,
        sign=_sign,
        others=opened.others,
    )
    session.store, session.shared, shared.session = store, shared, session
    return session


def station_id() -> str:
    """Return what tells this station from the others of a practice: 32 hexadecimal digits, made
    when they are first needed."""
    path = made_data_folder() / "station"
    try:
        kept = path.read_text(encoding="utf-8").strip()
    except OSError:
        kept = ""
    if len(kept) != _ID_DIGITS:
        kept = uuid4().hex
        write_private(path, f"{kept}\n")
    return kept


def deliver_what_waits(store: CaseStore) -> None:
    """Deliver what other programs charted here while the practice's database was away, and say
    what of it goes on waiting."""
    from dictate.cases.shared_case import deliver_spool

    for case_id in cases_waiting():
        spool = _spool(case_id)
        try:
            spool.open()
            deliver_spool(store, case_id, spool, station_id())
        except DictateError as error:
            say(f"Charted here and not delivered yet: case {case_id}. {error}", sys.stderr)
        finally:
            spool.close()


def cases_waiting() -> list[str]:
    """Return the ids of the cases in which something was charted here that waits for delivery."""
    from dictate.store.spool import waiting_cases

    return waiting_cases(data_folder() / _SPOOLS)


def _spool(case_id: str) -> Spool:
    from dictate.store.spool import Spool

    return Spool(data_folder() / _SPOOLS, case_id)
