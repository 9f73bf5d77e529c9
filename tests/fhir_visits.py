"""Invented visits for the tests of FHIR bundles."""

from datetime import UTC, datetime, timedelta

from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.integrity.seal import signer
from dictate.report.record import record_of
from dictate.session.session import Session

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
IMPORTED = datetime(2026, 6, 1, 12, tzinfo=UTC)

WHOLE = {
    "id": "odo-1",
    "species": "dog",
    "opened": OPENED,
    "animal": "Odo",
    "clinician": "Dr. Runa Tarn",
    "assistant": "Ann Vale",
    "breed": "Harrier",
    "sex": "female",
    "neutered": True,
    "birth_date": datetime(2019, 4, 2).date(),
    "weight_kg": 21.5,
    "owner_reference": "K-1042",
    "reason": "Bad breath",
    "history": "Chews stones.\nScaled in 2024.",
    "short_nosed": False,
    "index_scale": 3,
}

SAID = (
    "go to awake examination",
    "left lymph node enlarged",
    "head examination normal",
    "go to soft tissue",
    "mass left cheek 5 by 7 mm pink",
    "go to charting",
    "mixed dentition",
    "208 pocket 6 mesial furcation 2",
    "104 calculus 2 gingivitis 1",
    "106 pocket 2.5 mm buccal",
    "404 fracture CCF",
    "305 missing",
    "go to radiographs",
    "208 horizontal bone loss 30%",
    "full mouth radiographs",
    "go to treatment",
    "404 surgical extraction sutured",
    "left infraorbital block bupivacaine 0.5 ml",
    "right mental block",
    "note: 208 check again",
    "note: calm throughout",
)


def session_of(*said, sign=None, every=timedelta(seconds=7), **case):
    """A session in which phrases were typed, one every few seconds."""
    moments = (OPENED + every * number for number in range(10_000))
    session = Session(
        Case(**(WHOLE | case)), spoken_languages(), now=lambda: next(moments), sign=sign
    )
    for phrase in said:
        session.type_text(phrase)
    return session


def record(*said, **case):
    """The record of such a session."""
    session = session_of(*said, **case)
    return record_of(session.case, session.events)


def closed_record(folder, *after, said=SAID):
    """The record of a chart that was closed and sealed, and what was said after it."""
    return record(*said, "close the chart", "yes", *after, sign=signer(folder))
