"""What commands print: nothing that came from data is a command to the terminal."""

from __future__ import annotations

import json
import sys
from typing import Any, TextIO

from dictate.text import harmless


def say(words: object, to: TextIO | None = None) -> None:
    """Print words, of one line or several, harmless to a terminal; on stdout where no other stream
    is named."""
    lines = str(words).split("\n")
    print(*map(harmless, lines), sep="\n", file=to or sys.stdout, flush=True)


def say_json(data: Any) -> None:
    """Print data as JSON on one line. Characters that would not be seen stand as escapes."""
    text = json.dumps(data, ensure_ascii=False)
    print("".join(each if each.isprintable() else json.dumps(each)[1:-1] for each in text))
