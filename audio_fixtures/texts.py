"""What is to be said: the tables of sentences, commands, chatter, dictations and visits."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent

Finding = dict[str, Any]
"""A finding as records hold it: tooth, kind, value, unit, site."""

VISITS = ("whole_visit_dog", "whole_visit_cat")
"""The folders of whole visits."""

_FIELDS = ("tooth", "kind", "value", "unit", "site")


@dataclass(frozen=True)
class Said:
    """Something to be said, and what is to be charted because of it.

    `text` has commas where a person pauses. `say` has, by voice, a text to be spoken instead.
    `command` is the command that it gives, if it gives one. In a visit, `outcome` is what becomes
    of it, and `answer` says that it answers a question about what was heard.
    """

    id: str
    text: str
    species: str | None = None
    findings: tuple[Finding, ...] = ()
    voice: str | None = None
    command: str | None = None
    say: tuple[tuple[str, str], ...] = ()
    outcome: str = "charted"
    answer: bool = False

    @property
    def words(self) -> str:
        """The text as a recogniser is to return it: without commas."""
        return self.text.replace(",", "")

    def spoken_by(self, voice: str) -> str:
        """Return the text to give to a voice."""
        return dict(self.say).get(voice, self.text)


@dataclass(frozen=True)
class Dictation:
    """A whole mouth, utterance by utterance. `say` by a voice of its own is chatter."""

    folder: Path
    species: str
    voice: str
    utterances: tuple[Said, ...]

    def chart(self) -> list[Finding]:
        """Return the findings that stand in the end, in the order in which they were said.

        "undo" takes back all of the utterance before it; a correction takes the place of what
        was said of the same tooth, kind and site.
        """
        standing: list[tuple[Finding, ...]] = []
        for said in self.utterances:
            if said.command == "undo":
                standing.pop()
            elif said.command == "correction":
                gone = {_place(finding) for finding in said.findings}
                standing = [
                    tuple(each for each in findings if _place(each) not in gone)
                    for findings in standing
                ]
            if said.findings:
                standing.append(said.findings)
        return [finding for findings in standing for finding in findings]


@dataclass(frozen=True)
class Visit:
    """A whole visit, utterance by utterance: `case` has fields of the case, `decisions` what the
    clinician made of proposals before the treatment (tooth, rule, decision, text)."""

    folder: Path
    species: str
    voice: str
    case: dict[str, Any]
    utterances: tuple[Said, ...]
    decisions: tuple[dict[str, Any], ...]

    def script(self) -> tuple[str, ...]:
        """Return the visit as phrases to type, from script.txt beside it; blank lines part it."""
        lines = (self.folder / "script.txt").read_text(encoding="utf-8").splitlines()
        return tuple(line for line in lines if line)


def sentences() -> tuple[Said, ...]:
    """Return the charting sentences."""
    return tuple(_said(row) for row in _read(HERE / "sentences.toml")["sentence"])


def shares() -> dict[str, int]:
    """Return by voice: it says every n-th sentence."""
    every_nth: dict[str, int] = _read(HERE / "sentences.toml")["every_nth"]
    return every_nth


def commands() -> tuple[tuple[Said, ...], tuple[str, ...]]:
    """Return the commands and the voices that say them."""
    table = _read(HERE / "commands.toml")
    return tuple(_said(row) for row in table["command"]), tuple(table["voices"])


def chatter() -> tuple[Said, ...]:
    """Return what is said in a treatment room and not to be charted."""
    return tuple(_said(row) for row in _read(HERE / "chatter.toml")["chatter"])


def dictation(folder: str) -> Dictation:
    """Return the whole mouth of a folder."""
    table = _read(HERE / folder / "dictation.toml")
    rows = enumerate(table["utterance"], start=1)
    utterances = tuple(_said({"id": f"{folder}_{number}", **row}) for number, row in rows)
    return Dictation(HERE / folder, table["species"], table["voice"], utterances)


def visit(folder: str) -> Visit:
    """Return the visit of a folder."""
    table = _read(HERE / folder / "visit.toml")
    rows = enumerate(table["utterance"], start=1)
    return Visit(
        folder=HERE / folder,
        species=table["species"],
        voice=table["voice"],
        case=table["case"],
        utterances=tuple(_said({"id": f"{folder}_{number}", **row}) for number, row in rows),
        decisions=tuple(table["decision"]),
    )


def _said(row: dict[str, Any]) -> Said:
    findings = tuple({key: each.get(key) for key in _FIELDS} for each in row.get("findings", ()))
    plain = {
        key: row[key] for key in ("species", "voice", "command", "outcome", "answer") if key in row
    }
    say = tuple(row.get("say", {}).items())
    return Said(id=row["id"], text=row["text"], findings=findings, say=say, **plain)


def _place(finding: Finding) -> tuple[Any, ...]:
    return finding["tooth"], finding["kind"], finding["site"]


def _read(path: Path) -> dict[str, Any]:
    with path.open("rb") as file:
        return tomllib.load(file)
