"""All that the screen can be asked to do, by key and by voice: the keys, the line of keys and the
view of help are made from this table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from textual.binding import Binding

View = Literal["chart", "help", "plan", "findings", "doubts", "changes", "big"]
"""What the middle of the screen shows."""

Where = Literal["anywhere", "plan", "findings"]


@dataclass(frozen=True)
class Action:
    """Something to ask for.

    `run` is the action of the program; `keys` are the keys as the toolkit names them, `key` as
    people write them; `say` is what is said for it; `short` is its word in the line of keys.
    `where` is the view in which it can be asked for. `name` marks a key that may be another, too.
    """

    does: str
    run: str
    keys: str
    key: str
    say: str
    short: str
    where: Where = "anywhere"
    name: str | None = None

    def binding(self) -> Binding:
        """Return the binding of its keys."""
        return Binding(self.keys, self.run, id=self.name, priority=True)


LISTEN_ACTION = Action(
    "Stop listening, or start; after a problem with sound, begin anew",
    "turn_attention", "f5", "F5", "stop listening", "listen", name="attention",
)  # fmt: skip

ACTIONS: tuple[Action, ...] = (
    Action("Find help: what can be said, typed and pressed", "show('help')", "f1,ctrl+p", "F1",
           "show help", "help"),
    Action("Answer the question: what was heard is right", "answer(1)", "f2", "F2", "yes", "yes"),
    Action("Answer the question: it is not right, chart nothing", "answer(0)", "f3", "F3", "no",
           "no"),
    Action("Answer the question: its second reading", "answer(2)", "f9", "F9", "the second",
           "second"),
    Action("Answer the question: its third reading", "answer(3)", "f12", "F12", "the third",
           "third"),
    Action("Go to the next part of the visit", "next_part", "f4", "F4", "go to radiographs",
           "part"),
    LISTEN_ACTION,
    Action("Change between the dark and the light screen", "turn_light", "f6", "F6", "light screen",
           "light"),
    Action("Show what follows: progress, stages, questions, proposals, the plan", "show('plan')",
           "f7", "F7", "show plan", "plan"),
    Action("Answer by sound, or only on the screen", "turn_sounds", "f8", "F8", "sounds off",
           "sounds"),
    Action("Take back what was charted last", "say('undo')", "ctrl+z", "^Z", "undo", "undo"),
    Action("Put back what was taken back last", "say('redo')", "ctrl+y", "^Y", "redo", "redo"),
    Action("Take the tooth before this one in hand", "say('previous tooth')", "ctrl+left,pageup",
           "^←", "previous tooth", "back"),
    Action("Take the next tooth in hand", "say('next tooth')", "ctrl+right,pagedown", "^→",
           "next tooth", "next"),
    Action("Search the findings; edit them in place", "show('findings')", "ctrl+f", "^F",
           "show findings", "find"),
    Action("Show all open questions, to be answered in any order", "show('doubts')", "ctrl+d", "^D",
           "show doubts", "doubts"),
    Action("Show what undo would take back, and redo put back", "show('changes')", "ctrl+l", "^L",
           "show changes", "changes"),
    Action("Show the tooth in hand in big type, to be read from afar", "show('big')", "ctrl+b",
           "^B", "show big type", "big"),
    Action("Show the settings, and try the microphone", "show_settings", "ctrl+s", "^S",
           "show settings", "settings"),
    Action("Show the cases, with what changed since the last visit", "show_cases", "ctrl+o", "^O",
           "show cases", "cases"),
    Action("Close the chart as final; it asks first", "say('close the chart')", "ctrl+k", "^K",
           "close the chart", "close"),
    Action("Open a closed chart again, for an addendum", "say('open the chart again')", "ctrl+g",
           "^G", "open the chart again", "reopen"),
    Action("End the program; all that was charted is kept", "leave_program", "ctrl+q", "^Q",
           "leave the program", "quit"),
    Action("Take back the chosen finding; undo brings it back", "take_back_finding", "ctrl+x", "^X",
           "clear two oh eight pocket", "take back", "findings"),
    Action("Accept the chosen proposal", "decide('accept')", "ctrl+a", "^A", "accept proposal",
           "accept", "plan"),
    Action("Change the text of the chosen proposal", "decide('change')", "ctrl+e", "^E",
           "change proposal", "change", "plan"),
    Action("Dismiss the chosen proposal", "decide('dismiss')", "ctrl+x", "^X", "dismiss proposal",
           "dismiss", "plan"),
    Action("Accept the same for every tooth for which it is proposed", "accept_alike", "ctrl+t",
           "^T", "accept all alike", "all alike", "plan"),
    Action("Choose the proposal before", "choose(-1)", "up", "↑", "previous proposal", "up",
           "plan"),
    Action("Choose the next proposal", "choose(1)", "down", "↓", "next proposal", "down", "plan"),
    Action("End what is being read back", "silence", "escape", "Esc", "", "silence"),
    Action("Go back to the chart", "leave", "escape", "Esc", "show chart", "chart"),
)  # fmt: skip
"""In the order in which they are shown."""


def action_of(run: str) -> Action:
    """Return the row of an action of the program."""
    return next(each for each in ACTIONS if each.run == run)
