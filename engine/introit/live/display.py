"""What is shown: the same few facts with everything that is told."""

from __future__ import annotations

from introit.live.choice import Choice
from introit.live.events import Shown
from introit.live.playing import Beat


def shown(
    choice: Choice,
    state: str,
    what: str,
    ns: int,
    *,
    tempo: float | None = None,
    text: str = "",
    beat: Beat | None = None,
) -> Shown:
    """Something for the screen, with what is ready or playing.

    Args:
        choice: what has been called for.
        state: the session's.
        what: see `events.Shown`.
        ns: when it happened.
        tempo: of what plays; None while nothing does.
        text: a sentence for the player.
        beat: the beat it tells of.
    """
    latest = choice.latest
    ready = choice.ready if latest.tune == choice.tune else None
    return Shown(
        ns,
        state,
        what,
        tune=latest.tune,
        title="" if ready is None else ready.title,
        intro="" if ready is None else ready.intro,
        key="" if ready is None else ready.key,
        tempo=0.0 if ready is None else tempo or ready.tempo,
        bar=0 if beat is None else beat.bar,
        beat=0 if beat is None else beat.beat,
        beats_to_head=0 if beat is None else beat.beats_to_head,
        symbol="" if beat is None else beat.chord.symbol,
        numeral="" if beat is None else beat.chord.numeral,
        text=text,
        tonic=latest.tonic,
        minor=latest.minor,
    )
