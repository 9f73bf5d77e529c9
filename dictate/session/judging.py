"""What becomes of an utterance: which of the parts of a session it is for."""

from __future__ import annotations

from dictate.assessment.completeness import whats_left
from dictate.chart.draft import CLOSED
from dictate.phrases.statements import Command
from dictate.session.answers import answer
from dictate.session.charting import chart_or_ask
from dictate.session.closing import close, reopen
from dictate.session.correcting import correct
from dictate.session.course import Course
from dictate.session.statement_data import CLOSE, REOPEN, TO_THE_TOOL
from dictate.session.undoing import redo, undo
from dictate.session.utterance import Utterance
from dictate.session.verdict import Verdict, denial

_COMMANDS_ALONE = (
    "undo", "redo", "confirm", "reject", "choose", "left", "note", CLOSE, REOPEN, *TO_THE_TOOL,
)  # fmt: skip


def judge(course: Course, said: Utterance, note_is_due: bool) -> Verdict:
    """Return what becomes of an utterance, which is no note."""
    heard = said.hypothesis
    if heard.trust == "foreign":
        return Verdict("refused", heard.reason or "Not charting.")
    if not said.reading.parts:
        again = " Say “take a note” again." if note_is_due else ""
        return Verdict("refused", f"No words were understood.{again}")
    if denied := denial(said.reading, heard.text):
        return Verdict("refused", denied, rule="denied")
    if not said.reading.is_clear and (part := said.other_part()):
        sentence = f"That belongs to {part}: say “go to {part}” first."
        return Verdict("refused", sentence, rule="part")
    commands = [each for each in said.reading.statements if isinstance(each, Command)]
    if said.reading.is_clear and commands and commands[0].command in _COMMANDS_ALONE:
        if heard.trust != "sure":
            return Verdict("refused", f"“{heard.text}”? Say it again, or press a key.")
        return _obey(course, commands[0])
    if commands and commands[0].command == "correction":
        return correct(course, said)
    return chart_or_ask(course, said)


def _obey(course: Course, command: Command) -> Verdict:
    match command.command:
        case "confirm" | "reject":
            return answer(course, confirmed=command.command == "confirm")
        case "choose":
            return answer(course, confirmed=True, reading=int(command.about or 1))
        case "undo":
            return undo(course)
        case "redo":
            return redo(course)
        case "left":
            return Verdict("charted", whats_left(course.chart).sentence)
        case "note" if course.chart.closed:
            return Verdict("refused", CLOSED.sentence)
        case "note":
            return Verdict("charted", "Say the note now.")
        case "close":
            return close(course)
        case "reopen":
            return reopen(course)
        case "sounds_off":
            return Verdict("charted", "No sounds from now on.")
        case "sounds_on":
            return Verdict("charted", "Answers by sound.")
        case _:
            return Verdict("charted")
