"""Text from people and files, made harmless to show, or ready to be searched."""

from __future__ import annotations

import unicodedata

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
_JOINERS = frozenset("\u200c\u200d")
"""Written inside words of several scripts; they change the shape of letters and nothing else."""


def harmless(text: str) -> str:
    """Return `text` with every control, bidirectional or otherwise unseen character made
    visible: "␉" for a tab, "⟨U+202E⟩" for an override of the direction of reading. The result
    has no line breaks and holds only characters that XML 1.0 allows."""
    if text.isprintable():
        return text
    return "".join(_seen(character) for character in text)


def _seen(character: str) -> str:
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)
    if code == 0x7F:
        return "␡"
    not_a_character = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    hidden = unicodedata.category(character) in _HIDDEN and character not in _JOINERS
    return f"⟨U+{code:04X}⟩" if hidden or not_a_character else character


_SHORT, _ITS_END = 400, 120


def in_short(sentence: str) -> str:
    """Return a sentence that may quote what a file says: harmless, in one line, and without its
    middle where that makes it longer than 400 characters."""
    line = harmless(sentence)
    if len(line) <= _SHORT:
        return line
    return f"{line[: _SHORT - _ITS_END - 1]}…{line[-_ITS_END:]}"


_PLAIN_LETTERS = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe"})
"""Letters that are written with a stroke or as one, and have no accent to take away."""


def folded(text: str) -> str:
    """Return `text` as it is compared in a search: without accents, in small letters, with one
    space between words; “Zoë” is "zoe"."""
    apart = unicodedata.normalize("NFKD", text).casefold().translate(_PLAIN_LETTERS)
    bare = "".join(each for each in apart if not unicodedata.combining(each))
    return " ".join(unicodedata.normalize("NFKC", bare).split())
