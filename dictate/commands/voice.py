"""The commands about voices of one's own: dictate voice."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from dictate.commands.options import MicrophoneOption
from dictate.grammar.spoken import SpokenLanguages, spoken_languages
from dictate.session.session import now_utc
from dictate.settings import read_settings
from dictate.terminal import say
from dictate.text import harmless

if TYPE_CHECKING:
    from dictate.enrolment.enrol import Reading
    from dictate.enrolment.phrases import Phrase
    from dictate.enrolment.reading import Asked, Level, Taken
    from dictate.speech.recogniser import Recogniser

voice_app = typer.Typer(
    help="The embedded engine, fitted to a clinician's voice.", no_args_is_help=True
)


@voice_app.command("enrol")
def voice_enrol(
    clinician: Annotated[str, typer.Argument(help="The name, as in dictate chart --clinician.")],
    folder: Annotated[
        Path | None, typer.Option("--from", help="A folder of recordings: 1.wav, 2.wav …")
    ] = None,
    microphone: MicrophoneOption = None,
) -> None:
    """Read phrases for two minutes; what comes of them is kept only where it helps.

    The recordings themselves are not kept.
    """
    from dictate.enrolment.enrol import enrol
    from dictate.enrolment.phrases import enrolment_phrases
    from dictate.enrolment.reading import read_folder
    from dictate.enrolment.voice import clinician_name, keep_voice

    name = clinician_name(clinician)
    languages = spoken_languages()
    phrases = enrolment_phrases(languages)
    make = recogniser_of(languages)
    if folder is not None:
        readings = read_folder(phrases, folder)
    else:
        readings = _read_live(phrases, microphone, make, languages)
    print(f"{len(readings)} phrases were read; working out what they are worth …", file=sys.stderr)
    done = enrol(languages, readings, make)
    keep_voice(name, done.transform, done.phrases, done.gain, now_utc())
    gain = done.gain
    print(
        f"The voice of {name} is kept: of {gain.checked} phrases held back "
        f"{gain.understood_before} were understood without it and {gain.understood_after} with it, "
        f"{gain.wrong_before} and {gain.wrong_after} wrongly."
    )


def recogniser_of(languages: SpokenLanguages) -> Callable[[Path | None], Recogniser]:
    """Return what makes the embedded engine, with its own model or fitted by a transform."""
    from dictate.speech.sphinx import SphinxRecogniser

    return lambda mllr: SphinxRecogniser(languages, mllr=mllr)


def _read_live(
    phrases: tuple[Phrase, ...],
    microphone: str | None,
    make: Callable[[Path | None], Recogniser],
    languages: SpokenLanguages,
) -> list[Reading]:
    from dictate.enrolment.reading import read_live
    from dictate.speech.microphone import Microphone

    source = Microphone(microphone or read_settings().speech.microphone or None)
    recogniser = make(None)
    say(f"{source.name}: read each phrase aloud as it is shown, as you speak while charting.")
    try:
        return read_live(phrases, source, recogniser, languages, _Show(len(phrases)))
    finally:
        source.stop()


class _Show:
    """Prints phrases and what was heard, and on a terminal the level below the phrase."""

    def __init__(self, phrases: int) -> None:
        self._phrases = phrases

    def __call__(self, told: Asked | Level | Taken) -> None:
        from dictate.enrolment.reading import Asked, Level

        if isinstance(told, Level):
            if sys.stdout.isatty():
                bar = "█" * max(0, round((told.dbfs + 60) / 3))
                print(f"\r{bar:<20} {'too loud' if told.clipping else '':<8}", end="", flush=True)
        elif isinstance(told, Asked):
            once = "Once more: " if told.again else f"{told.phrase.number} of {self._phrases}: "
            print(f"{once}“{told.phrase.text}”", flush=True)
        else:
            said = "understood" if told.understood else f"heard as “{told.heard}”"
            print(f"\r    {said:<60}", flush=True)


@voice_app.command("phrases")
def voice_phrases() -> None:
    """Print the phrases to read, with the numbers for recordings of them."""
    from dictate.enrolment.phrases import enrolment_phrases

    for phrase in enrolment_phrases(spoken_languages()):
        print(f"{phrase.number:>2}  {phrase.text}")


@voice_app.command("list")
def voice_list() -> None:
    """List the voices that are kept, and what they were worth on phrases held back."""
    from dictate.enrolment.voice import find_voice, kept_voices

    table = Table()
    for column in ("Clinician", "Enrolled", "Phrases", "Understood", "Wrongly", "Now"):
        table.add_column(column)
    for voice in kept_voices():
        gain = voice.gain
        table.add_row(
            Text(harmless(voice.clinician)),
            f"{voice.enrolled.astimezone():%Y-%m-%d %H:%M}",
            str(voice.phrases),
            f"{gain.understood_before} → {gain.understood_after} of {gain.checked}",
            f"{gain.wrong_before} → {gain.wrong_after}",
            "used" if find_voice(voice.clinician).mllr else "enrol again",
        )
    Console().print(table)


@voice_app.command("remove")
def voice_remove(clinician: str) -> None:
    """Remove a clinician's voice; the engine then listens with its own model."""
    from dictate.enrolment.voice import remove_voice

    remove_voice(clinician)
    print("The voice is removed.")
