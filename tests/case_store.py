"""What the tests of cases on disk share: invented visits of invented animals."""

from datetime import UTC, datetime, timedelta

from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.cases import CaseStore

OPENED = datetime(2026, 5, 4, 12, tzinfo=UTC)
MILA = {
    "species": "dog",
    "animal": "Mila",
    "breed": "Border Collie",
    "clinician": "Dr. Ada Lind",
    "owner_reference": "K-1042",
}


def keep(store, case_id, days_ago, *phrases, **fields):
    """Keep a case opened so many days before `OPENED`, with phrases typed into it."""
    case = Case(id=case_id, opened=OPENED - timedelta(days=days_ago), **{**MILA, **fields})
    store.add_case(case)
    session = Session(
        case,
        spoken_languages(),
        save=lambda new: store.append(case.id, new),
        now=lambda: case.opened,
    )
    for phrase in phrases:
        session.type_text(phrase)
    return case


def kept_cases(folder):
    """Two visits of Mila, two cases that may be one Zoë, and an empty case."""
    store = CaseStore(folder / "cases.sqlite")
    keep(store, "mila-1", 400, "208 calculus 1 pocket 4 mesial", "404 calculus 1")
    keep(store, "mila-2", 0, "208 calculus 1 pocket 7 mesial", "404 missing")
    zoe = {"species": "cat", "clinician": "", "breed": ""}
    keep(store, "zoe-1", 30, "104 pocket 1 mesial", **zoe, animal="Zoë", owner_reference="")
    keep(store, "zoe-2", 3, "104 pocket 3 mesial", **zoe, animal="Zoe", owner_reference="K-7")
    keep(store, "bo-1", 4, animal="Bo", owner_reference="K-9", breed="")
    return store
