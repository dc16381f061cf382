"""A goal as a sentence, for a log or a screen; `sentence.goal_from` reads it back as the same goal."""

from __future__ import annotations

from introit.practice.goal import Climb, Ear, Goal, Hide, Keys, Lesson, Order

_ORDERS = {Order.RANDOM: "random keys", Order.AS_GIVEN: "keys"}
_EARS = {Ear.BOTH: "listen", Ear.OUT: "listen for chords left out", Ear.SWAPPED: "listen for swapped"}
_LESSONS = {Lesson.CHORDS: "build", Lesson.STRINGS: "build strings"}


def wording(goal: Goal) -> str:
    """The sentence, its parts in the order of the manual; `loop` where nothing else is said."""
    words = [str(goal.bars).replace("-", " to ")] if goal.bars else []
    words += [f"{goal.rounds} rounds"] if goal.rounds != 1 else []
    words += [f"rest {goal.rest}"] if goal.rest != 1 else []
    words += [f"count {goal.count}"] if goal.count else []
    words += [f"at {goal.tempo:g}"] if goal.tempo is not None else []
    words += [f"{goal.passes} passes"] if goal.passes is not None else []
    words += _keys(goal.keys) if goal.keys else []
    words += _climb(goal.climb) if goal.climb else []
    words += [_hide(goal.hide)] if goal.hide else []
    words += [f"fade over {goal.fade}"] if goal.fade else []
    words += [f"answer {goal.answer}"] if goal.answer else []
    words += [_LESSONS[goal.build]] if goal.build else []
    words += [_EARS[goal.ear]] if goal.ear else []
    return ", ".join(words) or "loop"


def _keys(keys: Keys) -> list[str]:
    words = [_ORDERS.get(keys.order, f"keys by {keys.order}")]
    if keys.of_set:
        words[0] += " of the set"
    if keys.own:
        named = ", ".join(str(key) for key in keys.own)
        words = [f"keys {named}"] if keys.order is Order.AS_GIVEN else [words[0], f"keys {named}"]
    if keys.order is Order.AS_GIVEN:
        words.append("as given")
    if keys.modes:
        words.append("in " + " and ".join(keys.modes))
    if keys.each != 1:
        words.append(f"{keys.each} times in each key")
    return [*words, "cue"] if keys.cue else words


def _climb(climb: Climb) -> list[str]:
    words = [f"climb {climb.low:g} to {climb.high:g} by {climb.step:g}"]
    if climb.pressed:
        words.append(f"{climb.each} clean each")
    elif climb.each != 1:
        words.append(f"{climb.each} each")
    return [*words, "and back"] if climb.back else words


def _hide(hide: Hide) -> str:
    return f"hide {', '.join(hide.parts)}{' in turn' if hide.in_turn else ''}"
