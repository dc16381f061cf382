"""A guitar alone: bass note, inner voices and melody in one pair of hands."""

from collections.abc import Sequence

from introit.arrange.one_guitar.fitting import fitted
from introit.arrange.one_guitar.sound import one_sound
from introit.arrange.one_guitar.thumb import thumb_notes
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, ScoreNote
from introit.arrange.tones import MINOR_NINTHS
from introit.theory.limits import too_low

__all__ = ["on_one_guitar", "one_sound", "thumb_notes"]


def on_one_guitar(scene: Scene, notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    """All notes of a scene as its one guitar plays them; see `fitting.fitted`."""
    stage, plan = scene.stage, scene.plan

    def rubs(ringing: ScoreNote, fresh: ScoreNote) -> bool:
        """Mud over a bass note; a minor ninth, but for a dominant's own b9 over its root; a half step.

        Voices of one chord of the comp may lie a half step apart, as in bells.
        """
        low, high = (ringing, fresh) if ringing.pitch <= fresh.pitch else (fresh, ringing)
        if low.part == BASS and too_low(low.pitch, high.pitch):
            return True
        if high.pitch - low.pitch not in MINOR_NINTHS:
            return False
        if high.pitch - low.pitch == 1:
            return low.part != COMP or high.part != COMP or low.harmony_tick != high.harmony_tick
        planned = plan.chords[plan.at(fresh.harmony_tick)]
        root_of_dominant = planned.chord.is_dominant and low.pitch % 12 == planned.chord.root.pitch_class
        pedal = planned.pedal is not None and low.pitch % 12 == planned.pedal.pitch_class
        return not (root_of_dominant or pedal)

    return fitted(notes, stage.fretboard, plucking=stage.plucking, bar_ticks=plan.bar_ticks, rubs=rubs)
