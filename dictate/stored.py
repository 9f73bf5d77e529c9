"""The cases on disk, and the sessions that go on with them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from dictate.chart.case import Case
from dictate.chart.events import Event, Seal
from dictate.folders import made_data_folder
from dictate.grammar.spoken import spoken_languages
from dictate.session import Session

if TYPE_CHECKING:
    from dictate.store.cases import CaseStore
    from dictate.store.clips import ClipStore


def case_store() -> CaseStore:
    """Return the cases in the data folder; raises DictateError where they cannot be read."""
    from dictate.store.cases import CaseStore

    return CaseStore(made_data_folder() / "cases.sqlite")


def clip_store() -> ClipStore:
    """Return the sounds of notes in the data folder."""
    from dictate.store.clips import ClipStore

    return ClipStore(made_data_folder() / "clips")


def _sign(head: str, by: str, time: datetime) -> Seal:
    # Signing is loaded when a chart is closed, not at every start.
    from dictate.integrity.seal import signer

    return signer(made_data_folder())(head, by, time)


def stored_session(store: CaseStore, case: Case, events: Sequence[Event] = ()) -> Session:
    """Return a session of a case in the store, whose events and clips are kept on disk."""
    return Session(
        case,
        spoken_languages(),
        events,
        save=lambda new: store.append(case.id, new),
        keep_clip=clip_store().keeper(case.id),
        sign=_sign,
    )
