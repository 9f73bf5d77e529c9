"""The cases on disk, and the sessions that go on with them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dictate.chart.case import Case
from dictate.chart.events import Event
from dictate.folders import made_data_folder
from dictate.grammar.spoken import spoken_languages
from dictate.session import Session

if TYPE_CHECKING:
    from dictate.store.cases import CaseStore


def case_store() -> CaseStore:
    """Return the cases in the data folder; raises DictateError where they cannot be read."""
    from dictate.store.cases import CaseStore

    return CaseStore(made_data_folder() / "cases.sqlite")


def stored_session(store: CaseStore, case: Case, events: Sequence[Event] = ()) -> Session:
    """Return a session of a case in the store, whose events and clips are kept on disk."""
    from dictate.store.clips import ClipStore

    return Session(
        case,
        spoken_languages(),
        events,
        save=lambda new: store.append(case.id, new),
        keep_clip=ClipStore(made_data_folder() / "clips").keeper(case.id),
    )
