"""When Python looks for garbage, so that nobody waits for it.

The grammars and tables that the screen stands on are some hundred thousand objects that stay until
the end. To look through all of them takes a tenth of a second, time and again, in which no key is
answered (tests/benchmarks/screen.py).
"""

from __future__ import annotations

import gc


def look_for_none() -> None:
    """Look for no garbage while what stays is made."""
    gc.disable()


def look_only_at_what_is_new() -> None:
    """Look for garbage again, but never among what is there now."""
    gc.freeze()
    gc.enable()
