"""Replay the audio fixtures through an engine, for tests and benchmarks."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from audio_fixtures.expected import blank_session
from audio_fixtures.texts import visit
from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.listening.replay import Replay, replay
from dictate.session.session import Session
from dictate.speech.recogniser import Recogniser

ROOT = Path(__file__).resolve().parent.parent
FIXTURES = ROOT / "audio_fixtures"
SHARED = ROOT.parent / "shared"
MANIFEST: dict[str, list[dict[str, Any]]] = json.loads(
    (FIXTURES / "manifest.json").read_text(encoding="utf-8")
)
CHARTING_VOICES = ("flite", "festival")


@dataclass
class Tally:
    """Counts of findings: wanted, charted rightly, charted though not wanted."""

    wanted: int = 0
    right: int = 0
    wrong: int = 0
    misses: list[str] = field(default_factory=list)

    def add(self, wanted: list[dict[str, Any]], got: list[dict[str, Any]], what: str) -> None:
        missed = [each for each in wanted if each not in got]
        self.wanted += len(wanted)
        self.right += len(wanted) - len(missed)
        self.wrong += sum(each not in wanted for each in got)
        if missed:
            self.misses.append(what)


def play(files: list[Path], engine: Recogniser, species: str = "dog") -> tuple[Session, Replay]:
    case = Case(id="fixture", species=species, opened=datetime(2026, 5, 4, tzinfo=UTC))
    session = Session(case, spoken_languages())
    return session, replay(files, lambda: engine, session)


def findings_of(session: Session) -> list[dict[str, Any]]:
    return [finding.model_dump() for finding in session.chart.findings]


def sentences_by_voice(
    engine: Recogniser, wanted: Callable[[str], bool] = lambda voice: True
) -> dict[str, Tally]:
    tallies: dict[str, Tally] = defaultdict(Tally)
    for row in MANIFEST["sentences"]:
        if wanted(row["voice"]):
            session, result = play([FIXTURES / row["file"]], engine, row["species"])
            heard = "; ".join(f"{h.outcome} “{h.text}”" for h in result.heard)
            what = f"{row['voice']}: “{row['text']}” {heard}"
            tallies[row["voice"]].add(row["findings"], findings_of(session), what)
    return dict(tallies)


def not_charting() -> Iterator[Path]:
    """Chatter, silence and noise, and room speech where it is there."""
    for group in ("chatter", "noise"):
        yield from (FIXTURES / row["file"] for row in MANIFEST[group])
    yield from sorted((SHARED / "room_speech").glob("*.wav"))


def visit_row(name: str) -> dict[str, Any]:
    """What the manifest says of a whole visit: its file, and each utterance with its outcome."""
    return next(row for row in MANIFEST["visits"] if row["id"] == name)


def play_visit(name: str, engine: Recogniser) -> tuple[Session, Replay]:
    """Play a whole visit, opened as its table says."""
    session = blank_session(visit(name))
    return session, replay([FIXTURES / visit_row(name)["file"]], lambda: engine, session)


def expected_of(name: str) -> dict[str, Any]:
    """The record that stands after a whole visit."""
    expected: dict[str, Any] = json.loads(
        (FIXTURES / name / "expected.json").read_text(encoding="utf-8")
    )
    return expected
