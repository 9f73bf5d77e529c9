"""The demonstration: an invented dog, dictated by a synthetic voice."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from rich.table import Table

from dictate import garbage
from dictate.chart.anatomy import tooth_name
from dictate.chart.case import Case
from dictate.documents.reports import write_reports
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.listening.replay import Replay, replay
from dictate.report.record import record_of
from dictate.session.session import Session, now_utc
from dictate.speech.audio_file import AudioFile
from dictate.speech.recogniser import Recogniser

_PACKAGE = Path(__file__).resolve().parent.parent


def dictation() -> Path:
    """Return the recording: inside an installed package, else in audio_fixtures beside it."""
    for folder in (_PACKAGE / "demo_audio", _PACKAGE.parent / "audio_fixtures" / "whole_mouth"):
        if (folder / "dictation.flac").is_file():
            return folder / "dictation.flac"
    raise DictateError("The recording of the demonstration is missing: install dictate again.")


def new_session() -> Session:
    """Return the session of the invented dog; nothing of it is stored."""
    case = Case(
        id="demo-bramble",
        species="dog",
        opened=now_utc(),
        animal="Bramble",
        clinician="Dr. Ilse Marwood (invented)",
    )
    return Session(case, spoken_languages())


def run_headless(session: Session, make_recogniser: Callable[[], Recogniser]) -> Replay:
    """Play the dictation as fast as it can be heard."""
    return replay([dictation()], make_recogniser, session)


def run_on_screen(session: Session, make_recogniser: Callable[[], Recogniser]) -> None:
    """Play the dictation in real time, on the screen."""
    from dictate.listening.listener import Listener, in_own_process
    from dictate.screen.app import ChartingApp

    source = AudioFile(dictation(), real_time=True)
    program = ChartingApp(
        session,
        lambda tell, context: Listener(
            source, in_own_process(make_recogniser, tell), tell, context
        ),
    )
    garbage.look_only_at_what_is_new()
    program.run()


def summary(session: Session, result: Replay) -> Table:
    """Return the findings by tooth, and under them what became of the utterances."""
    chart = session.chart
    outcomes = [heard.outcome for heard in result.heard]
    counts = ", ".join(f"{outcomes.count(o)} {o}" for o in ("charted", "query", "refused"))
    teeth = chart.anatomy.permanent_teeth
    table = Table(
        title=f"{session.case.animal}, {session.case.species}; indices 0-{chart.index_scale}",
        caption=(
            f"{len(result.heard)} utterances: {counts}. "
            f"{len(chart.charted_teeth & set(teeth))} of {len(teeth)} teeth charted. "
            f"{result.audio_s:.0f} s of audio in {result.cpu_s:.1f} s of processor time."
        ),
    )
    for column in ("Tooth", "Name", "Findings"):
        table.add_column(column)
    for tooth in teeth:
        findings = ", ".join(finding.words() for finding in chart.on(tooth))
        table.add_row(str(tooth), tooth_name(tooth), findings or "not charted")
    return table


def write(session: Session, folder: Path) -> list[Path]:
    """Write the reports of the session into `folder`; return their paths."""
    return write_reports(record_of(session.case, session.events), folder)
