"""What else is said in a treatment room: invented everyday talk, with numbers and words of the
mouth in it. Nothing of it may be charted."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from audio_fixtures.voices import say
from dictate.speech.audio import Samples
from tests.benchmarks.recognition_data.sentences import Part, part_of
from tests.benchmarks.recognition_data.speakers import SPEEDS, said_at, voices_of

TEXTS = """
can you hand me the other mirror please
her heart rate is one hundred and four now
what time does the next patient come in
the owner called twice this morning about the bill
let's turn the oxygen down to one litre
he has eaten four of those treats since yesterday
i think we need more gauze over here
did anybody feed the cat in the ward
she weighs four point two kilos today
put the kettle on when you are done
the printer in room two is out of paper again
my son lost a tooth at school last week
we had three of these dogs in november
is the temperature still thirty seven point five
that light is far too bright for me
the delivery should be here by ten
could you ring missus barlow and tell her it will be late
i parked behind the blue van outside
there are eight kennels free tonight
blood pressure is ninety over sixty
hold the head a little to the left
somebody left the door of the pharmacy open
it rained the whole weekend in wales
do you want milk in your coffee
the suction is making that noise again
he was missing for two days before they found him
we are nearly half way round already
this one is a lovely old boy
remind me to order more sutures
the student starts on monday at nine
give me two more minutes and then wake him up
i have never seen a tail that long
the new vet nurse is called emily
turn the music down a bit would you
that was a normal reading an hour ago
where did you put my other glove
they moved here from bristol last year
can we have the big towel from the dryer
my knee hurts when i stand here for long
she bit me on the thumb the last time
one of the lights has gone out upstairs
please write down the time for me
the alarm means the bag is empty
it is five past eleven so we are doing well
what did the lab say about the kidney values
he likes having his ears scratched
the insurance form goes in the red folder
i would rather do the other side first
is it your birthday on friday
no no leave it there for now
the big dog in seven has pulled his drip out
we should get a taller chair for this room
her breathing is slow but steady
ask the receptionist for the phone number
one two one two can you hear me
that is the third time it has done that
have you seen the film about the lighthouse
the water is cold this morning
i will take the next one if you like
my phone is on the table next to the sink
""".strip().splitlines()


def chatter(part: Part) -> Iterator[tuple[str, Samples]]:
    """Yield the text and the sound of all talk of a part, said by every voice of the part."""
    for text in TEXTS:
        for voice in voices_of(part):
            if part_of(text) == part:
                speed = Random(f"{voice} {text}").choice(SPEEDS)
                yield f"{voice}: {text}", said_at(speed, say(voice, text))
