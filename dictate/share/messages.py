"""What the charting screen and its second screens say to each other: one line of JSON each."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from dictate.chart.case import Case
from dictate.chart.events import Decision, Event, Heard
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation

LONGEST_PHRASE = 400
"""Characters of a phrase, as many as the line to type on takes."""
Hearing: TypeAlias = Literal["typing", "preparing", "listening", "waiting", "stopped", "ended"]
"""What comes of speech on the charting screen."""
Press: TypeAlias = Literal["turn_attention", "turn_sounds", "silence"]
"""Keys that the charting screen acts on where they are pressed on a second one."""


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class State(_Message):
    """What a session knows beside its events. `problems` are the sentences on the charting screen,
    by kind; `writes` whether this second screen may write."""

    told: Literal["state"] = "state"
    hearing: Hearing = "typing"
    is_speaking: bool = False
    is_listening: bool = True
    note_is_due: bool = False
    problems: dict[str, str] = {}
    writes: bool = False


class Hello(_Message):
    """The first thing told: whose examination it is."""

    told: Literal["hello"] = "hello"
    case: Case


class Happened(_Message):
    """Events that are saved, in order; `others` are the numbers of those that another station
    charted."""

    told: Literal["happened"] = "happened"
    events: tuple[Event, ...]
    others: tuple[int, ...] = ()


class Words(_Message):
    """The words so far of an utterance that is being spoken."""

    told: Literal["words"] = "words"
    text: str


class Loudness(_Message):
    """How loud the input is, in dBFS."""

    told: Literal["loudness"] = "loudness"
    dbfs: float
    clipping: bool


class Answer(_Message):
    """What became of what was asked: `heard` of a phrase or a decision; `problem`, a sentence,
    where it was not done."""

    told: Literal["answer"] = "answer"
    to: int
    heard: Heard | None = None
    problem: str | None = None


Told: TypeAlias = Hello | State | Happened | Words | Loudness | Answer


class Join(_Message):
    """The first thing that a second screen says: which browser it belongs to."""

    ask: Literal["join"] = "join"
    seat: str = Field(min_length=1, max_length=64)


class _Ask(_Message):
    """Something to be done; `number` counts what a second screen asks."""

    number: int


class MayWrite(_Ask):
    """Whether a code admits to writing."""

    ask: Literal["may_write"] = "may_write"
    code: str = Field(max_length=32)


class Type(_Ask):
    """A phrase was typed, by somebody who had seen that many events."""

    ask: Literal["type"] = "type"
    phrase: str = Field(min_length=1, max_length=LONGEST_PHRASE)
    seen: int


class Decide(_Ask):
    """Something was decided on a proposal, by somebody who had seen that many events."""

    ask: Literal["decide"] = "decide"
    teeth: tuple[int, ...] = Field(min_length=1)
    rule: str
    decision: Decision
    text: str = ""
    seen: int


class Edit(_Ask):
    """A text is to stand in the place of what stands, by somebody who had seen that many events."""

    ask: Literal["edit"] = "edit"
    standing: Finding | Observation
    text: str = Field(max_length=LONGEST_PHRASE)
    seen: int


class Settle(_Ask):
    """A doubt was answered, by somebody who had seen that many events: see `Session.answer`."""

    ask: Literal["settle"] = "settle"
    doubt: int
    reading: int = Field(ge=0, le=3)
    seen: int


class PressKey(_Ask):
    """A key was pressed."""

    ask: Literal["press"] = "press"
    key: Press


InSession: TypeAlias = Type | Decide | Edit | Settle
ToBeDone: TypeAlias = InSession | PressKey
Asked: TypeAlias = MayWrite | ToBeDone

ANY_TOLD: TypeAdapter[Told] = TypeAdapter(Annotated[Told, Field(discriminator="told")])
ANY_ASKED: TypeAdapter[Asked] = TypeAdapter(Annotated[Asked, Field(discriminator="ask")])


def line(message: _Message) -> bytes:
    """Return a message as a line."""
    return message.model_dump_json().encode() + b"\n"
