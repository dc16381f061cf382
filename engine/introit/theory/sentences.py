"""What a chord does, in the words of a teacher: one rule for each family of chords.

A sentence says where a chord stands and what it is; what it leads to is said only where that follows.
"""

from __future__ import annotations

from introit.theory.passage import HALF_STEP_UP, TRITONE, WHOLE_STEP_UP, Passage
from introit.theory.quality import Family
from introit.theory.target import FIFTH_DOWN, HALF_STEP_DOWN

_BORROWED = "borrowed from the parallel minor"


def words_for(passage: Passage) -> str:
    """The sentence for a chord in its passage, without capital and full stop."""
    return _WORDS[passage.numeral.kind.family](passage)


def _major_words(passage: Passage) -> str:
    at_home = {0: "the tonic", 5: "the four"}.get(passage.here)
    if at_home and passage.minor:
        return f"{at_home} made major: borrowed from the parallel major"
    if at_home:
        return "the tonic: home" if passage.here == 0 else "the four: away from home, yet at rest"
    if passage.here == 1:
        return _flat_two_words(passage)
    if passage.here == 7:
        return _plain_five_words(passage)
    seventh = passage.numeral.kind.has_seventh
    if passage.here in {3, 8} or (passage.here == 10 and not seventh):
        origin = "the key's own" if passage.minor else _BORROWED
        return f"{passage.place()}, major: {origin}"
    if passage.movement == FIFTH_DOWN and not seventh:
        return f"the dominant of {passage.place(FIFTH_DOWN)} as a plain major chord"
    return f"a major chord on {passage.place()}: bright, from outside the key"


def _flat_two_words(passage: Passage) -> str:
    name = "flat two, major"
    if passage.after == 0:
        return f"{name}: stands where the dominant would, a half step above home, and falls into one"
    if passage.after is None:
        return f"{name}: can stand where the dominant would, a half step above home"
    if passage.after == 7 and passage.major_or_suspended_follows:
        return f"{name}: a half step above home, prepares the dominant that follows"
    return f"{name}: a dark colour from a half step above home"


def _plain_five_words(passage: Passage) -> str:
    if passage.numeral.kind.has_seventh:
        return "a major seventh on five: bright, without the dominant's pull"
    return _answered("the dominant as a plain major chord", passage)


def _minor_words(passage: Passage) -> str:
    if passage.here == 2:
        return _two_words("the two", passage)
    if passage.here == 0 and passage.minor and "b7" not in passage.numeral.kind.required:
        return "the tonic: home"
    pair = f"the two of a two-five into {passage.two_five_into}" if passage.two_five_into else ""
    if passage.here == 5:
        return _minor_four_words(passage, pair)
    if passage.here == 4 and not passage.minor:
        return "the three: stands in for one, sharing its tones" + (f"; also {pair}" if pair else "")
    if pair:
        return pair
    if passage.here == 0:
        made_minor = f"the tonic made minor: {_BORROWED}"
        less = "one with a minor seventh: less at rest than a sixth or major seventh"
        return less if passage.minor else made_minor
    if passage.here == 7:
        own = "five as a minor chord: without the leading tone it hardly pulls"
        return own if passage.minor else f"five made minor: {_BORROWED}"
    if passage.here == 9 and not passage.minor:
        return "the six: the relative minor, a softer home"
    return _with_half_step(f"a minor chord on {passage.place()}", passage, joint=": ")


def _minor_four_words(passage: Passage, pair: str) -> str:
    if passage.minor:
        return "the four of the key" + (f"; also {pair}" if pair else "")
    name = f"four made minor: {_BORROWED}"
    if pair:  # the target may be flat three, or one by the back door: the next chord tells
        return f"{name}; prepares the flat seven that follows"
    return _with_half_step(name, passage, joint="; ")


def _two_words(name: str, passage: Passage) -> str:
    """The two, of either kind: what it prepares is said where it follows."""
    if passage.sounds_as_suspended_five:
        return name
    if passage.following is None:
        return f"{name}: the usual way to the dominant"
    if passage.after == 7 and passage.major_or_suspended_follows:
        return f"{name}: prepares the dominant that follows"
    if passage.after == 1 and passage.dominant_follows:
        return f"{name}: prepares the dominant's tritone substitute that follows"
    return f"{name}: {passage.motion() or 'stays on its root'}"


def _dominant_words(passage: Passage) -> str:
    lead = _dominant_lead(passage)
    if passage.numeral.quality == "7alt":
        pulls = passage.movement in {None, FIFTH_DOWN, HALF_STEP_DOWN}
        return f"{lead}; fifth and ninth are altered" + (" so that it pulls hardest" if pulls else "")
    return lead + _bright_words(passage)


def _dominant_lead(passage: Passage) -> str:
    if passage.here == 7:
        return _answered("the dominant", passage)
    if passage.movement == HALF_STEP_DOWN:
        return f"{_substitute_name(passage)}: falls by a half step to {passage.place(HALF_STEP_DOWN)}"
    if passage.here == 10 and passage.movement not in ({None, FIFTH_DOWN} if passage.minor else {FIFTH_DOWN}):
        return _flat_seven_words(passage)
    if passage.here == 1 and passage.movement != FIFTH_DOWN:
        return f"{_substitute_name(passage)}: its third and seventh are the dominant's own"
    if passage.here == 0 and not passage.minor and passage.movement not in {None, FIFTH_DOWN}:
        return "one with a flat seventh: the tonic of the blues"
    if passage.here == 5 and passage.movement != FIFTH_DOWN:
        third = (
            "its third is the raised six of the melodic minor" if passage.minor else "the four of the blues"
        )
        return f"four with a flat seventh: {third}"
    return _secondary_words(passage)


def _secondary_words(passage: Passage) -> str:
    name = f"the dominant of {passage.place(FIFTH_DOWN)}"
    if passage.movement in {None, FIFTH_DOWN}:
        return name
    if passage.leads_in_key:
        return _answered(name, passage)
    motion = passage.motion()
    return f"a dominant seventh on {passage.place()}" + (f": {motion}" if motion else "")


def _substitute_name(passage: Passage) -> str:
    of_one = passage.here == 1
    return "tritone substitute for the dominant" + ("" if of_one else f" of {passage.place(HALF_STEP_DOWN)}")


def _flat_seven_words(passage: Passage) -> str:
    rises = passage.movement == WHOLE_STEP_UP
    if rises and not passage.minor:
        return f"the backdoor dominant: {_BORROWED}, it rises a whole step to one"
    if passage.movement is None:
        return f"the backdoor dominant: {_BORROWED}"
    origin = "the key's own" if passage.minor else _BORROWED
    motion = "rises a whole step to one" if rises else passage.motion()
    return f"a dominant seventh on flat seven: {origin}" + (f"; {motion}" if motion else "")


def _answered(name: str, passage: Passage) -> str:
    """A dominant by its name, and what comes after it where that is not its target."""
    own = passage.here == 7
    if passage.movement in {None, FIFTH_DOWN}:
        return f"{name}: leads to one" if own else name
    if passage.movement == 0:
        same = passage.following is not None and passage.following.quality == passage.numeral.quality
        turns = passage.following is not None and not passage.dominant_follows
        if turns:
            return f"{name}: becomes another kind of chord on the same root"
        return f"{name}: goes on" if same else f"{name}: goes on in another colour"
    if passage.movement == TRITONE and passage.dominant_follows:
        return f"{name}: gives way to its tritone substitute"
    return f"{name}, answered by {passage.place(passage.movement or 0)} instead" + (" of one" if own else "")


def _bright_words(passage: Passage) -> str:
    """For a five of a minor key: the tensions that are written from the parallel major."""
    written = {*passage.numeral.kind.required, *passage.numeral.alterations}
    bright = [word for degree, word in (("9", "nine"), ("13", "thirteen")) if degree in written]
    if not (bright and passage.minor and passage.here == 7):
        return ""
    return f", with the {' and '.join(bright)} of the parallel major"


def _suspended_words(passage: Passage) -> str:
    kind = passage.numeral.kind
    if not kind.has_seventh:
        return f"{passage.place()} suspended: {_instead_of_the_third(passage)}"
    origin = " of the parallel minor" if passage.here == 7 and not passage.minor else ""
    ninth = f", with the flat nine{origin}" if "b9" in passage.numeral.alterations else ""
    leads = passage.leads_in_key and passage.movement in {None, 0}
    name = f"a suspended chord on {passage.place()}"
    if passage.here == 7:
        name = "the dominant, suspended"
    elif leads or passage.movement == FIFTH_DOWN:
        name = f"the dominant of {passage.place(FIFTH_DOWN)}, suspended"
    return f"{name}: the fourth waits in place of the third{ninth or _bright_words(passage)}"


def _instead_of_the_third(passage: Passage) -> str:
    arrives = passage.following is not None and {"3", "b3"} & set(passage.following.kind.required)
    if passage.movement == 0 and arrives:
        return "the third is still to come"
    other = "fourth" if "4" in passage.numeral.kind.required else "second"
    return f"the {other} stands in place of the third"


def _half_diminished_words(passage: Passage) -> str:
    if passage.here == 2:
        own = "the two of the minor key"
        return _two_words(own if passage.minor else f"the two, {_BORROWED}", passage)
    pair = f"the two of a minor two-five into {passage.two_five_into}" if passage.two_five_into else ""
    if passage.here == 6:
        return _raised_four_words(passage, pair)
    if pair:
        return pair
    if passage.here == 9 and passage.minor:
        return "half-diminished on the raised six of the melodic minor: the tonic with six in the bass"
    if passage.here == 11 and passage.movement in {None, HALF_STEP_UP}:
        return "half-diminished on the leading tone: a dominant ninth without its root"
    return _with_half_step(f"half-diminished on {passage.place()}", passage, joint=": ")


def _raised_four_words(passage: Passage, pair: str) -> str:
    name = "half-diminished on the raised fourth"
    if passage.movement == HALF_STEP_DOWN:
        return f"{name}: starts the descent, a half step down to four"
    return f"{name}: {pair}" if pair else _with_half_step(name, passage, joint=": ")


def _diminished_words(passage: Passage) -> str:
    if passage.here == 11:
        rising = ", and rises into one" if passage.movement == HALF_STEP_UP else ""
        return f"diminished on the leading tone: a dominant without its root{rising}"
    if passage.movement == HALF_STEP_UP:
        target = passage.place(HALF_STEP_UP)
        return f"passing diminished: rises a half step into {target}, standing for its dominant"
    if passage.movement == HALF_STEP_DOWN:
        return f"passing diminished: falls a half step into {passage.place(HALF_STEP_DOWN)}"
    if passage.movement == 0:
        return f"diminished on {passage.place()}: delays the chord on the same root"
    return f"diminished on {passage.place()}: tension without a root of its own"


def _augmented_words(passage: Passage) -> str:
    if passage.movement in {FIFTH_DOWN, None}:
        name = "the dominant" if passage.here == 7 else f"the dominant of {passage.place(FIFTH_DOWN)}"
        return f"{name}, augmented: the raised fifth leads up"
    return f"augmented on {passage.place()}: a raised fifth in place of the plain one"


_WORDS = {
    Family.MAJOR: _major_words,
    Family.MINOR: _minor_words,
    Family.DOMINANT: _dominant_words,
    Family.SUSPENDED: _suspended_words,
    Family.HALF_DIMINISHED: _half_diminished_words,
    Family.DIMINISHED: _diminished_words,
    Family.AUGMENTED: _augmented_words,
}


def _with_half_step(name: str, passage: Passage, *, joint: str) -> str:
    step = passage.half_step()
    return f"{name}{joint}{step}" if step else name
