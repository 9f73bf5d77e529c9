"""`dictate chart`: an examination on the screen."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dictate import garbage
from dictate.cases.stored import StoredSession, case_store, keep_new_case, load_case, stored_session
from dictate.commands.forget import sweep_at_start
from dictate.commands.options import MicrophoneOption, engine_maker
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session, now_utc
from dictate.share.address import ShareAddress, shared_address
from dictate.terminal import say

if TYPE_CHECKING:
    from dictate.listening.engines import EngineMaker
    from dictate.listening.listener import Listener, Tell
    from dictate.listening.metering import RunningMicrophone
    from dictate.screen.app import ChartingApp
    from dictate.screen.taking import Listen
    from dictate.sounds.turns import Turns

FromOption = Annotated[
    Path | None, typer.Option("--from", help="A new case's fields, .json or .toml; flags win.")
]


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
    microphone: MicrophoneOption = None,
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
    from dictate.listening.metering import RunningMicrophone
    from dictate.screen.foot_switch import check_foot_switch
    from dictate.settings import read_settings
    from dictate.sounds.answers import Answers
    from dictate.sounds.turns import Turns

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
    make = engine_maker(engine, voice)
    running = RunningMicrophone()
    kept: dict[str, Any] = {
        "answers": Answers(practice.sounds, turns),
        "settings": practice,
        "running": running,
        "store": session.store,
    }
    begin = _listening(make, microphone, turns, running) if listen else None
    program = _screen(session, begin, address, kept)
    garbage.look_only_at_what_is_new()
    program.run()
    print(f"Case {session.case.id} is kept; “dictate report {session.case.id}” writes its record.")


def _listening(
    make: EngineMaker, microphone: str | None, turns: Turns, running: RunningMicrophone
) -> Listen:
    """Return what makes a listener to a microphone: the one named, else the one that is set when
    it is opened."""
    from dictate.listening.listener import Listener, in_own_process
    from dictate.settings import read_settings
    from dictate.speech.audio import OpenedLate
    from dictate.speech.microphone import Microphone

    def opened() -> Microphone:
        source = Microphone(microphone or read_settings().speech.microphone or None)
        running.name = source.name
        return source

    def begin(tell: Tell, context: Callable[[], str]) -> Listener:
        return Listener(OpenedLate(opened), in_own_process(make, tell), tell, context, turns)

    return begin


def _voice_of(clinician: str) -> Path | None:
    """Return the voice that is kept of who examines, and say that it is used, or why not."""
    from dictate.enrolment.voice import find_voice

    found = find_voice(clinician)
    if found.problem:
        say(found.problem, sys.stderr)
    if found.mllr:
        say(f"Listening with the voice of {clinician}.")
    return found.mllr


def _screen(
    session: Session, listen: Listen | None, address: ShareAddress | None, kept: dict[str, Any]
) -> ChartingApp:
    """Return the charting screen, with second screens at `address` where one is given."""
    if address is None:
        from dictate.screen.app import ChartingApp

        return ChartingApp(session, listen, **kept)
    from dictate.screen.sharing import SharingApp

    return SharingApp(session, listen, address=address, **kept)


def _stored_session(
    case_id: str | None, from_file: Path | None, flags: dict[str, Any], index_scale: int
) -> StoredSession:
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
        return stored_session(store, keep_new_case(store, known))
    return stored_session(store, *load_case(store, case_id))
