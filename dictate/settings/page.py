"""The page about the settings, docs/settings.md, made from their models."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from itertools import groupby
from pathlib import Path

import tomlkit

from dictate.settings.sections import Effect, Setting, all_settings

EFFECTS: dict[Effect, str] = {
    "now": "at once",
    "listening": "at the next start, or with F5 after a problem",
    "case": "for cases begun from then on",
    "start": "at the next start",
}

_BEGINNING = """# Settings

Made from `dictate/settings/sections.py` by `python -m dictate.settings.page docs/settings.md`; a
test compares the two.

What a practice sets for itself stands in `settings.toml` in the data folder. It can be left out,
and so can every line of it. `dictate settings` prints where it is, what is in force, and what of
that is from the file; `dictate settings --edit` changes it on the screen. A flag of the command
line wins over the file, and so does the file of a case (`--from`) for the grades.

On the screen the arrows, Enter, Esc and the mouse do everything. Each change is kept at once:
there is nothing to save and nothing to lose. A click chooses a setting, a click on its value
changes it. What cannot be is refused with one sentence, and nothing is written. In the file only
the value changes: comments, order and spacing stay. A file that is wrong is never written over:
the screen says what is wrong with it. Only its owner can read it.

An engine, a name or a foot-switch with which dictate could not go on is refused there
with the reason: an engine that has no model here, a name that nobody told how it sounds, a key that
does something else.

While settings cover the chart, speech is heard and charted as ever, questions wait, and the keys
that would answer them do nothing.

## The microphone

Enter on “Microphone” lists the input devices, and tests the one that the cursor is on: how loud
it is, whether it is cut off, how far the voice is above the room, and in one word what that comes
to. The test keeps and charts nothing. A microphone that a case is listening with is not opened a
second time: what the case hears is shown, and goes on being charted. `dictate calibrate` measures
more, and exactly ([calibration.md](calibration.md)); the test counts as noise what the quietest
tenth of the last six seconds holds, all frequencies together. With 16 sentences of the fixtures,
each in six strengths of white and of pink noise, it put the voice 0.7 to 2.2 dB less above the room
than `calibrate` did, on average (from 4.8 dB less to 1.9 dB more), and came to the same verdict in
174 of 192; 16 of the others were a step worse, 2 a step better.

R looks for microphones that were connected since the start. With a case open that needs a new
start: looking again would close its sound.

## All settings

"""

_MIDDLE = """
## An example

All of it with the defaults, which is the same as no file:

```toml
"""


def page() -> str:
    """Return the page as Markdown."""
    return f"{_BEGINNING}{_table()}{_MIDDLE}{settings_lines(_default_comment)}\n```\n"


def settings_lines(
    comment: Callable[[Setting], str], value: Callable[[Setting], object] | None = None
) -> str:
    """Return every setting as a line of TOML, by section, with its value (the default where none
    is asked for) and a comment."""
    value_of = value or (lambda setting: setting.default)
    parts = []
    for section, settings in groupby(all_settings(), lambda each: each.section):
        lines = [(f"{each.key} = {as_toml(value_of(each))}", comment(each)) for each in settings]
        parts.append("\n".join([f"[{section}]", *(f"{a:<24} # {b}" for a, b in lines)]))
    return "\n\n".join(parts)


def as_toml(value: object) -> str:
    """Return a value as the file has it."""
    return tomlkit.item(value).as_string()


def _default_comment(setting: Setting) -> str:
    return setting.shown.allowed


def _table() -> str:
    return "\n".join(_rows()) + "\n"


def _rows() -> Iterator[str]:
    yield "| setting | on the screen | default | may be | meaning | a change takes effect |"
    yield "|---|---|---|---|---|---|"
    for each in all_settings():
        effect = EFFECTS[each.shown.effect]
        yield (
            f"| `{each.path}` | {each.shown.name} | `{as_toml(each.default)}` | "
            f"{each.shown.allowed} | {each.meaning} | {effect} |"
        )


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(page(), encoding="utf-8")
