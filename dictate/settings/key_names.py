"""Which names of keys the screen knows."""

from __future__ import annotations

import re
import unicodedata


def is_key(name: str) -> bool:
    """Whether the screen has a name for this key, alone or with ctrl, alt or shift."""
    # Textual takes a moment to load, and no other setting needs it.
    from textual.keys import KEY_NAME_REPLACEMENTS, Keys

    *modifiers, key = name.split("+")
    if not set(modifiers) <= {"ctrl", "alt", "shift"} or not re.fullmatch("[A-Za-z0-9_]+", key):
        return False
    if len(key) == 1 or key in {*Keys, *KEY_NAME_REPLACEMENTS.values()}:
        return True
    try:
        unicodedata.lookup(key.replace("_", " "))
    except KeyError:
        return False
    return True
