"""A visit of which everything is kept and written, for tests of what becomes of it."""

import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from dictate.cases.stored import case_store, stored_session
from dictate.chart.case import Case
from dictate.speech.audio import SAMPLE_RATE, UtteranceAudio
from dictate.speech.recogniser import Hypothesis

ROOT = Path(__file__).resolve().parent.parent
FIXTURES = ROOT / "audio_fixtures"
WATCH = ROOT / "tests" / "network_watch"
SPOKEN = str(FIXTURES / "sentences" / "flite_slt" / "dog_pocket_mesial.flac")
OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
SOUND = UtteranceAudio(np.arange(SAMPLE_RATE // 10, dtype=np.int16), 0.0, 0.1)
PHRASES = ("208 calculus 2 pocket 5 mesial", "309 referred", "go to charting", "404 missing")
CASE, EARLIER = "odo-2", "odo-1"
REFERRED = ("--to", "Dr. Imre Halloway", "--why", "A broken tooth")
WRITE = (
    ("report", CASE, "--out", "out/deep/report"),
    ("letter", CASE, *REFERRED, "--out", "out/letter"),
    ("letter", CASE, *REFERRED, "--draft", "letter.md"),
    ("sheet", CASE, "--out", "out/sheet"),
    ("drawing", CASE, "--out", "mouth.svg"),
    ("drawing", CASE, "--out", "mouth.png"),
    ("formulary", "new", "formulary.toml"),
)
READ = (
    ("cases",),
    ("compare", CASE),
    ("assess", CASE),
    ("settings",),
    ("parse", "208 calculus 2"),
    ("replay", SPOKEN, "--engine", "sphinx"),
    ("check",),
    ("voice", "list"),
)


def keep_visits(clinician="Dr. Ada Lind", animal="Odo"):
    """Keep two visits of one animal in the data folder, the later with a note's sound and a seal,
    and return the session of the later one."""
    of = {"species": "dog", "clinician": clinician, "animal": animal, "owner_reference": "K-1042"}
    store = case_store()
    earlier = Case(id=EARLIER, opened=datetime(2025, 5, 4, 8, tzinfo=UTC), **of)
    store.add_case(earlier)
    stored_session(store, earlier).type_text("208 calculus 1 pocket 4 mesial")
    case = Case(id=CASE, opened=OPENED, **of)
    store.add_case(case)
    session = stored_session(store, case)
    for phrase in PHRASES:
        session.type_text(phrase)
    session.type_text("take a note")
    session.hear(Hypothesis("gums bleed", score=0.5, trust="doubtful", engine="sphinx"), SOUND)
    session.keep_undecoded(SOUND)
    session.type_text("close the chart")
    session.type_text("yes")
    assert session.chart.closed
    assert len(session.chart.notes) == 2
    return session


def run(*arguments, data, folder, environment=None, **more):
    """Run a command as a person does, in `folder`, and return what became of it."""
    own = {"PYTHONPATH": str(ROOT), "DICTATE_DATA": str(data)}
    return subprocess.run(
        [sys.executable, "-P", "-m", "dictate", *arguments],
        capture_output=True,
        text=True,
        env={**os.environ, **own, **(environment or {})},
        cwd=folder,
        check=False,
        stdin=subprocess.DEVNULL,
        **more,
    )


class Watched:
    """Runs commands of which every Python process notes what it asks of a network."""

    def __init__(self, folder):
        self.folder = folder
        self.work = folder / "work"
        self.work.mkdir(mode=0o700)
        self.ended = {}
        self.notes = self.work / "notes"
        self.notes.touch(mode=0o600)
        self.environment = {
            "PYTHONPATH": os.pathsep.join((str(WATCH), str(ROOT))),
            "NETWORK_NOTES": str(self.notes),
        }

    def run(self, *arguments):
        """Run a command with a umask of 0, and return what became of it."""
        data = self.folder / "data"
        ended = run(*arguments, data=data, folder=self.work, environment=self.environment, umask=0)
        self.ended[arguments] = ended
        return ended

    def noted(self):
        """How many processes were watched, and what they asked for."""
        lines = self.notes.read_text(encoding="utf-8").splitlines()
        asked = [each for each in lines if not each.startswith("watching ")]
        return len(lines) - len(asked), asked


def run_all(watched):
    """Run all of them, and return what watched them."""
    for arguments in (*WRITE, *READ):
        watched.run(*arguments)
    return watched
