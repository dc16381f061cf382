"""A tune as the evening has it: the tune, what it is arranged from, and what was ordered for it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from introit.arrange.form import ArrangeError
from introit.arrange.rotation import Rotation
from introit.arrange.tune_sounds import sounds_of
from introit.library.model import Library, Tune
from introit.library.rereading import same_music
from introit.live.events import Request
from introit.performance import Sound
from introit.theory.key import Key, Mode


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """A tune with the content that it can be arranged from, in the tempo and with the intro it is wanted in.

    What is ordered makes another entry of it; so whatever was arranged for this one can tell that it is over.

    Attributes:
        tune: as its file says it.
        library: all content, when it was last looked at.
        rotation: the tune's intros by their numbers.
        ordered: quarter notes a minute that were ordered; None for the tune's own.
        number: of the intro, as in `Request`.
    """

    tune: Tune
    library: Library
    rotation: Rotation
    ordered: float | None = None
    number: int = 0

    @classmethod
    def of(cls, tune: Tune, library: Library, line_up: str | None) -> Entry:
        """An entry for which nothing has been ordered. line_up: who plays, by its word; None when unknown."""
        return cls(tune, library, Rotation(tune, library.intros, line_up=line_up))

    @property
    def tempo(self) -> float:
        """Quarter notes a minute."""
        return self.tune.tempo if self.ordered is None else self.ordered

    @property
    def sounds(self) -> tuple[Sound, ...]:
        """What sounds otherwise than in the rig, as the wire counts programs."""
        return sounds_of(self.tune)

    def key(self, request: Request) -> Key:
        """The key that a request names; the tune's own where it names none."""
        own = self.tune.key
        if request.tonic is None:
            return own
        mode = own.mode if request.minor is None else (Mode.MINOR if request.minor else Mode.MAJOR)
        if mode is own.mode and request.tonic == own.tonic.pitch_class:
            return own  # F# stays F# where the player wrote it so
        return Key.from_pitch_class(request.tonic, mode)

    def playable(self, key: Key) -> Tune:
        """The tune at its tempo with the intro that is played in a key.

        A tune called in the other mode may have no form of its own intro there; a good partner plays another
        one rather than none.
        """
        intro = self.rotation.at(self.number, key.mode, self.tempo)
        return replace(self.tune, tempo=self.tempo, intro=intro, more_intros=())

    def asked(self, request: Request, *, afresh: bool) -> Entry:
        """The entry in the tempo and with the intro of a request; itself where they are what they were.

        Args:
            request: what is wanted.
            afresh: True for the next playing of what was just played: its tempo has been tried, and the next
                of the tune's own intros has its turn.

        Raises:
            ArrangeError: when the intro cannot be played at the tempo.
        """
        mode = self.key(request).mode
        tempo = self.tempo if request.tempo is None else request.tempo
        number = self.number if request.intro is None else request.intro
        if afresh:
            if request.intro is None:
                number = self.rotation.after(number, mode, tempo)
        elif tempo != self.tempo:
            reason = self.rotation.objection(number, mode, tempo, before=self.tempo)
            if reason is not None:
                raise ArrangeError(reason)
        if (tempo, number) == (self.tempo, self.number):
            return self
        return replace(self, ordered=tempo, number=number)

    def saved(self, tune: Tune, library: Library, line_up: str | None) -> Entry:
        """The entry after a save: what has changed in the tune's file wins over what was ordered.

        Args:
            tune: as its file now says it.
            library: all content now.
            line_up: who plays, by its word; None when unknown.
        """
        if tune.id != self.tune.id:
            return Entry.of(tune, library, line_up)
        alike = tune.intros == self.tune.intros
        before = self.rotation if alike else None
        rotation = Rotation(tune, library.intros, line_up=line_up, before=before)
        number = self.number if alike else 0
        ordered = self.ordered if tune.tempo == self.tune.tempo else None
        if ordered and rotation.objection(number, tune.key.mode, ordered, before=tune.tempo):
            ordered = None
        return Entry(tune, library, rotation, ordered, number)

    def plays_as(self, other: Entry | None) -> bool:
        """Whether the other one would be arranged alike: the same tune from the same music."""
        return other is not None and self.tune == other.tune and same_music(self.library, other.library)
