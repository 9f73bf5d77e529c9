"""Print how well and how fast the default engine does the main job on the audio fixtures.

    python -m tests.benchmarks.first_job

Figures: findings right by voice; findings from what is not charting; processor time of a whole
mouth beside the length of its audio; the most memory that the process held.
"""

import resource
import time
from datetime import timedelta

from dictate.grammar.spoken import spoken_languages
from dictate.speech.sphinx import SphinxRecogniser
from tests.fixture_replay import (
    FIXTURES,
    MANIFEST,
    findings_of,
    not_charting,
    play,
    sentences_by_voice,
)


def main() -> None:
    began = time.perf_counter()
    engine = SphinxRecogniser(spoken_languages())
    print(f"engine ready in {time.perf_counter() - began:.2f} s")
    for row in MANIFEST["dictations"]:
        session, result = play([FIXTURES / row["file"]], engine, row["species"])
        got, wanted = findings_of(session), row["chart"]
        right = sum(each in got for each in wanted)
        wrong = sum(each not in wanted for each in got)
        ratio = result.cpu_s / result.audio_s
        length = timedelta(seconds=round(result.audio_s))
        print(f"whole mouth, {row['species']}: {right} of {len(wanted)} right, {wrong} wrong;")
        print(f"    {length} of audio at {ratio:.3f} x real time on one core")
    print(f"{'voice':<20}{'findings':>9}{'right':>8}{'wrong':>7}")
    for voice, tally in sorted(sentences_by_voice(engine).items()):
        share = f"{100 * tally.right / tally.wanted:.1f}%"
        print(f"{voice:<20}{tally.wanted:>9}{share:>8}{tally.wrong:>7}")
    clips = list(not_charting())
    outcomes = [(findings_of(s), r) for s, r in (play([path], engine) for path in clips)]
    false = sum(len(findings) for findings, _ in outcomes)
    queries = sum(h.outcome == "query" for _, result in outcomes for h in result.heard)
    print(f"{len(clips)} clips that are not charting: {false} findings, {queries} queries")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory held: {peak_mb:.0f} MB")


if __name__ == "__main__":
    main()
