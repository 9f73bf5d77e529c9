"""The command line: it parses, starts, and says in one sentence what went wrong."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast, get_args

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from dictate import garbage
from dictate.backup_commands import backup, restore
from dictate.calibration_commands import calibrate
from dictate.case_commands import cases, compare, open_case
from dictate.chart.case import Case, entered_case
from dictate.document_commands import PaperOption, letter, sheet
from dictate.documents.practice import paper_named, read_practice
from dictate.drawing_commands import drawing
from dictate.errors import DictateError
from dictate.exchange_commands import export, import_case
from dictate.folders import OTHERS
from dictate.forget_command import forget, sweep_at_start
from dictate.grammar.spoken import CHARTING, spoken_languages
from dictate.history_commands import history
from dictate.practice_commands import practice_app
from dictate.rescue_command import rescue
from dictate.session import Session, now_utc
from dictate.settings_command import settings
from dictate.share.address import ShareAddress, shared_address
from dictate.sound_commands import sounds
from dictate.statement_words import statement_in_words
from dictate.stored import case_store, clip_store, load_case, stored_session
from dictate.terminal import say, say_json
from dictate.text import harmless
from dictate.verify_commands import verify
from dictate.visit_commands import assess, decide, formulary_app
from dictate.voice_commands import voice_app

if TYPE_CHECKING:
    from dictate.listening import Listener, Tell
    from dictate.screen.app import ChartingApp

app = typer.Typer(
    help="Chart a veterinary dental examination by voice, offline.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
model_app = typer.Typer(help="Speech models that may be added.", no_args_is_help=True)
app.add_typer(model_app, name="model")

SpeciesOption = Annotated[str, typer.Option("--species", help="dog or cat.")]
EngineOption = Annotated[str, typer.Option("--engine", help="auto, both, vosk or sphinx.")]
ScaleOption = Annotated[int, typer.Option("--index-scale", help="Top grade of indices: 3 or 4.")]
FromOption = Annotated[
    Path | None, typer.Option("--from", help="A new case's fields, .json or .toml; flags win.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object, nothing else.")]


def main() -> None:
    """Run the program; a DictateError becomes one sentence on stderr and exit code 2."""
    # What libraries and child processes make is for its owner alone, too.
    os.umask(OTHERS)
    try:
        app()
    except DictateError as error:
        say(error, sys.stderr)
        sys.exit(2)


def _new_case(case_id: str, species: str, index_scale: int, **known: Any) -> Case:
    return entered_case(
        {
            "id": case_id,
            "species": species,
            "opened": now_utc(),
            "index_scale": index_scale,
            **known,
        }
    )


def _engine(choice: str, mllr: Path | None = None) -> Any:
    from dictate.engines import EngineChoice, EngineMaker

    if choice not in get_args(EngineChoice):
        raise DictateError(f"There is no engine {choice}: choose auto, both, vosk or sphinx.")
    return EngineMaker(cast(EngineChoice, choice), mllr)


def _voice_of(clinician: str) -> Path | None:
    """Return the voice that is kept of who examines, and say that it is used, or why not."""
    from dictate.enrolment.voice import find_voice

    found = find_voice(clinician)
    if found.problem:
        say(found.problem, sys.stderr)
    if found.mllr:
        say(f"Listening with the voice of {clinician}.")
    return found.mllr


@app.command()
def parse(
    text: str,
    species: SpeciesOption = "dog",
    index_scale: ScaleOption = 4,
    as_json: JsonOption = False,
) -> None:
    """Say what a phrase means; exit code 1 where nothing was understood."""
    from dictate.phrases.reading import read_typed
    from dictate.phrases.statements import Unclear
    from dictate.statement_data import as_data

    case = _new_case("parse", species, index_scale)
    reading = read_typed(spoken_languages().beginning_with(CHARTING), text)
    if not any(not isinstance(each, Unclear) for each in reading.statements):
        meant = "It means two things" if reading.ambiguous else "Nothing was understood"
        say(f"{meant}: “{text}”; see docs/spoken_phrases.md.", sys.stderr)
        raise typer.Exit(1)
    heard = Session(case, spoken_languages()).type_text(text)
    statements = [as_data(each) for each in reading.statements]
    if as_json:
        say_json({"statements": statements, "outcome": heard.outcome, "reason": heard.reason})
        return
    for statement in statements:
        say(statement_in_words(statement))
    if heard.reason:
        say(f"{heard.outcome}: {heard.reason}")


@app.command()
def replay(
    files: list[Path],
    species: SpeciesOption = "dog",
    engine: EngineOption = "auto",
    index_scale: ScaleOption = 4,
    as_json: JsonOption = False,
) -> None:
    """Play recordings in order, as one session, and print what they come to."""
    from dictate.replay import as_json as replay_as_json
    from dictate.replay import replay as play

    session = Session(_new_case("replay", species, index_scale), spoken_languages())
    result = play(files, _engine(engine), session)
    if as_json:
        say_json(replay_as_json(result, session))
        return
    console = Console()
    console.print(_heard_table(session))
    console.print(_findings_table(session))
    if session.chart.observations:
        console.print(_observations_table(session))


def _heard_table(session: Session) -> Table:
    table = Table(title="What was heard", title_justify="left")
    for column in ("Outcome", "Words", "Meaning", "Why"):
        table.add_column(column)
    for event in session.heard:
        heard: Any = event.what
        meaning = ", ".join(statement_in_words(each) for each in heard.statements)
        words = (harmless(each) for each in (heard.text, meaning, heard.reason or ""))
        table.add_row(heard.outcome, *map(Text, words))
    return table


def _observations_table(session: Session) -> Table:
    table = Table("Part", "Observed", title="Beside the teeth", title_justify="left")
    for each in session.chart.observations:
        covered = " (covered by “normal”)" if each.covered else ""
        table.add_row(each.row.section.replace("_", " "), Text(harmless(each.words()) + covered))
    return table


def _findings_table(session: Session) -> Table:
    table = Table(title=f"Findings, indices 0-{session.case.index_scale}", title_justify="left")
    for column in ("Tooth", "Findings"):
        table.add_column(column)
    for tooth in sorted(session.chart.charted_teeth):
        words = ", ".join(finding.words() for finding in session.chart.on(tooth))
        table.add_row(str(tooth), Text(harmless(words)))
    return table


@app.command()
def chart(
    case: Annotated[str | None, typer.Argument(help="A case to resume; none: a new one.")] = None,
    species: Annotated[str | None, typer.Option(help="dog or cat; dog if not stated.")] = None,
    animal: Annotated[str, typer.Option(help="The animal's name.")] = "",
    clinician: Annotated[str, typer.Option(help="Who examines.")] = "",
    from_file: FromOption = None,
    engine: Annotated[
        str | None, typer.Option(help="auto, both, vosk or sphinx; else as set.")
    ] = None,
    index_scale: Annotated[
        int | None, typer.Option(help="Top grade of indices: 3 or 4; else as set.")
    ] = None,
    microphone: Annotated[
        str | None, typer.Option(help="Input device by name; else as set.")
    ] = None,
    listen: Annotated[bool, typer.Option(help="Listen, or take typed phrases only.")] = True,
    share: Annotated[
        bool, typer.Option("--share", help="A second screen in a browser of this machine.")
    ] = False,
    share_at: Annotated[
        str | None, typer.Option(help="A second screen at this address of the practice's network.")
    ] = None,
) -> None:
    """Chart an examination on the screen, by voice and keyboard."""
    garbage.look_for_none()
    from dictate.listening import Listener, in_own_process
    from dictate.metering import RunningMicrophone
    from dictate.screen.foot_switch import check_foot_switch
    from dictate.settings import read_settings
    from dictate.sounds.answers import Answers
    from dictate.sounds.turns import Turns
    from dictate.speech.audio import OpenedLate
    from dictate.speech.microphone import Microphone

    practice = read_settings()
    sweep_at_start()
    engine = engine or practice.speech.engine
    address = shared_address(share, share_at)
    spoken_languages().check_name()
    check_foot_switch(practice.attention.foot_switch)
    turns = Turns(practice.sounds.echo_s)
    flags = {
        "species": species,
        "index_scale": index_scale,
        "animal": animal or None,
        "clinician": clinician or None,
    }
    session = _stored_session(case, from_file, flags, practice.chart.index_scale)
    # Vosk alone has no voices: they are fitted to the embedded engine.
    voice = _voice_of(session.case.clinician) if listen and engine != "vosk" else None
    make = _engine(engine, voice)
    running = RunningMicrophone()

    def opened() -> Microphone:
        source = Microphone(microphone or read_settings().speech.microphone or None)
        running.name = source.name
        return source

    def begin(tell: Tell, context: Callable[[], str]) -> Listener:
        return Listener(OpenedLate(opened), in_own_process(make, tell), tell, context, turns)

    answers = Answers(practice.sounds, turns)
    kept: dict[str, Any] = {
        "answers": answers,
        "settings": practice,
        "running": running,
        "store": case_store(may_be_away=True),
    }
    program = _screen(session, begin if listen else None, address, kept)
    garbage.look_only_at_what_is_new()
    program.run()
    print(f"Case {session.case.id} is kept; “dictate report {session.case.id}” writes its record.")


def _screen(
    session: Session, listen: Any, address: ShareAddress | None, kept: dict[str, Any]
) -> ChartingApp:
    """Return the charting screen, with second screens at `address` where one is given."""
    if address is None:
        from dictate.screen.app import ChartingApp

        return ChartingApp(session, listen, **kept)
    from dictate.screen.sharing import SharingApp

    return SharingApp(session, listen, address=address, **kept)


def _stored_session(
    case_id: str | None, from_file: Path | None, flags: dict[str, Any], index_scale: int
) -> Session:
    """Resume a case, or open one with the fields of a file, over which the flags win. The scale of
    the settings holds where neither states one."""
    from dictate.chart.case_file import read_case_file

    if case_id is not None and from_file is not None:
        raise DictateError(
            f"--from is for a new case: leave out {case_id} to open one, or --from to resume it."
        )
    stated = {field: value for field, value in flags.items() if value is not None}
    filed = read_case_file(from_file, now_utc()) if from_file else {}
    known: dict[str, Any] = {"species": "dog", "index_scale": index_scale} | filed | stated
    store = case_store(may_be_away=True)
    if case_id is None:
        case = _new_case(store.fresh_id(now_utc(), known["species"]), **known)
        store.add_case(case)
        events: Any = ()
    else:
        case, events = load_case(store, case_id)
    return stored_session(store, case, events)


@app.command()
def report(
    case: str,
    out: Annotated[Path, typer.Option("--out", help="Folder for the files.")] = Path("out"),
    paper: PaperOption = None,
) -> None:
    """Write the record of a case: JSON, CSV, HTML and PDF, and the sound of its notes."""
    from dictate.report.page import write_reports
    from dictate.report.record import record_of
    from dictate.visits import earlier_history

    store = case_store()
    record = record_of(*store.load(case))
    practice = read_practice()
    of_paper = paper_named(paper, practice)
    earlier = earlier_history(store, case)
    written = write_reports(record, out, paper=of_paper, practice=practice, history=earlier)
    clips = [note.clip for note in record.chart.notes if note.clip is not None]
    for path in (*written, *clip_store().copy(clips, out)):
        say(path)


app.command()(cases)
app.command()(compare)
app.command()(history)
app.command("open")(open_case)
app.command()(assess)
app.command()(decide)
app.command()(letter)
app.command()(sheet)
app.command()(export)
app.command("import")(import_case)
app.command()(sounds)
app.command()(settings)
app.command()(drawing)
app.command()(verify)
app.command()(calibrate)
app.command()(backup)
app.command()(restore)
app.command()(forget)
app.command()(rescue)
app.add_typer(formulary_app, name="formulary")
app.add_typer(practice_app, name="practice")
app.add_typer(voice_app, name="voice")


@app.command()
def demo(
    headless: Annotated[
        bool, typer.Option("--headless", help="No screen: as fast as it can.")
    ] = False,
    engine: EngineOption = "sphinx",
    out: Annotated[Path, typer.Option("--out", help="Folder for the reports.")] = Path("out/demo"),
) -> None:
    """Chart the mouth of an invented dog from a recorded dictation."""
    from dictate import demo as demonstration

    session = demonstration.new_session()
    if headless:
        result = demonstration.run_headless(session, _engine(engine))
        Console().print(demonstration.summary(session, result))
    else:
        demonstration.run_on_screen(session, _engine(engine))
    for path in demonstration.write(session, out):
        say(path)


@app.command()
def check() -> None:
    """Say what works here; exit code 1 where something that charting needs does not."""
    from dictate.check import check as look

    broken = False
    for found in look(spoken_languages()):
        sign = "✓" if found.works else ("✗" if found.needed else "–")
        say(f"{sign} {found.what}: {found.sentence}")
        broken = broken or (found.needed and not found.works)
    if broken:
        raise typer.Exit(1)


@model_app.command("get")
def model_get(name: str) -> None:
    """Download a speech model by name; the only time that the network is used."""
    from rich.markup import escape
    from rich.progress import BarColumn, DownloadColumn, Progress

    from dictate.speech.model import download

    with Progress("{task.description}", BarColumn(), DownloadColumn()) as progress:
        task = progress.add_task(escape(harmless(name)), total=None)
        folder = download(
            name,
            progress=lambda done, total: progress.update(task, completed=done, total=total),
        )
    print(f"The model is in {folder}; “dictate check” says what it knows.")
