"""Notes in the examiner's own words, typed or spoken."""

from __future__ import annotations

from collections.abc import Callable

from dictate.chart.draft import CLOSED
from dictate.chart.events import Heard, Noted
from dictate.session.course import Course
from dictate.session.doubts import numbered
from dictate.session.heard import spoken_note, unheard
from dictate.session.statement_data import MISSED
from dictate.session.verdict import Verdict
from dictate.speech.audio import Samples, UtteranceAudio
from dictate.speech.recogniser import Hypothesis

TYPED_NOTE = "note:"
"""What a typed note begins with."""

UNDECODED = "(the speech engine failed: listen to it)"
"""What stands in the place of words of which there is only the sound."""


class Notes:
    """Keeps notes among what has happened, and their sound by `keep_clip`, which takes it with the
    number of its utterance and returns the name of its file."""

    def __init__(self, course: Course, keep_clip: Callable[[Samples, int], str] | None) -> None:
        self._course = course
        self._keep_clip = keep_clip

    def is_due(self, asked_by: str | None = None) -> bool:
        """Return whether the utterance before asked for a note to be taken, by that engine; not
        where a case was resumed since."""
        heard = [e for e in numbered(self._course.heard_of_the_visit) if e[1].rule != MISSED]
        if not heard:
            return False
        number, last = heard[-1]
        return (
            last.outcome == "charted"
            and number > self._course.resumed_after
            and asked_by in (None, last.engine)
            and [each["statement"] for each in last.statements] == ["note"]
        )

    def take_typed(self, text: str) -> Heard:
        """Keep what was typed, on the tooth that it begins with, else on the one in hand."""
        if not text:
            return self._course.record_asked(Verdict("refused", "The note is empty."), TYPED_NOTE)
        chart = self._course.chart
        if chart.closed:
            return self._course.record_asked(Verdict("refused", CLOSED.sentence), text)
        heard = Heard(text=text, outcome="charted", statements=({"statement": "noted"},))
        first = text.split()[0].rstrip(":,")
        number = int(first) if first.isascii() and first.isdigit() and len(first) == 3 else 0
        tooth = number if chart.anatomy.has(number) else chart.tooth_in_hand
        self._course.record(heard, (Noted(text=text, tooth=tooth, verified=True),))
        return heard

    def take_spoken(self, hypothesis: Hypothesis, audio: UtteranceAudio) -> Heard:
        """Keep what was said, with its sound: nobody has verified the words."""
        heard = spoken_note(hypothesis, audio)
        self._course.record(heard, (self._noted(hypothesis.text, self._clip(audio)),))
        return heard

    def keep_undecoded(self, audio: UtteranceAudio) -> Heard:
        """Keep the sound of an utterance on which the engine failed; it is refused."""
        clip = self._clip(audio)
        heard = unheard("The speech engine failed: say it again.", audio)
        kept = clip is not None and not self._course.chart.closed
        self._course.record(heard, (self._noted(UNDECODED, clip),) if kept else ())
        return heard

    def _clip(self, audio: UtteranceAudio) -> str | None:
        if self._keep_clip is None:
            return None
        return self._keep_clip(audio.samples, self._course.next_number)

    def _noted(self, text: str, clip: str | None) -> Noted:
        return Noted(text=text, tooth=self._course.chart.tooth_in_hand, clip=clip)
