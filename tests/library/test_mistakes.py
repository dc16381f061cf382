"""Every kind of mistake: its code, its exact line and column (marked by § in the text), and what is said."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.codes import CODES
from introit.library.kinds import KINDS

ProblemAt = Callable[[str, str], Problem]
Read = Callable[[str, str], tuple[object | None, list[Problem]]]

TUNE = "title: Six Pears\nkey: Bb\nfeel: medium-swing\n"
RHYTHM = "name: x\nmeter: 4/4\nrhythm: |\n  "
STEPS = "name: x\nmeter: 4/4\nsteps: |\n  "
RIG = "name: x\nports:\n  main: {to: any, from: any}\nparts:\n  comp: {port: main, channel: 1}\n"


def intro(harmony: str, *, more: str = "", meters: str = "[4/4]", form: str = "leads_to: I") -> str:
    return (
        f"name: x\nmeters: {meters}\ntempo: [60, 240]\nfeels: [medium-swing]\nwhy: because\n{more}"
        f"forms:\n  - mode: major\n    {form}\n    harmony: |\n      {harmony}\n"
    )


TABLE = {
    "chord name": ("tune", TUNE + "chart: |\n  Bb6 | F§x7\n", "bad-chord", "'Fx7'", ""),
    "open repeat": ("tune", TUNE + "chart: |\n  I6 | §|: V7\n", "bad-chart", "closed nowhere", ""),
    "unknown key": ("tune", TUNE + "§temp: 120\n", "unknown-key", "temp", "Did you mean 'tempo'?"),
    "missing key": ("tune", "§title: x\nfeel: bossa\n", "missing-key", "a tune needs 'key'", ""),
    "key without value": ("tune", "title: x\n§key:\nfeel: bossa\n", "missing-key", "needs 'key'", ""),
    "key twice": ("tune", TUNE + "§key: C\n", "duplicate-key", "the first is in line 2", ""),
    "list for a word": ("tune", "title: §[a, b]\nkey: C\nfeel: bossa\n", "wrong-type", "a list is given", ""),
    "block for a word": (
        "tune",
        "title: x\nkey:\n  §a: b\nfeel: bossa\n",
        "wrong-type",
        "a block of keys",
        "",
    ),
    "word for a number": ("tune", TUNE + "tempo: §fast\n", "wrong-type", "'fast' is given", ""),
    "part of a bar": (
        "tune",
        TUNE + "count_off: §1.5\n",
        "wrong-type",
        "a whole number from 0 to 4 bars",
        "",
    ),
    "nothing at all": ("tune", "§", "wrong-type", "nothing is given", ""),
    "a list for a file": ("tune", "§- a\n", "wrong-type", "described by keys and values", ""),
    "tempo too high": (
        "tune",
        TUNE + "tempo: §401\n",
        "out-of-range",
        "401 is out of range; allowed is 30 to 400",
        "",
    ),
    "tempo too low": ("tune", TUNE + "tempo: §29.5\n", "out-of-range", "29.5 is out of range", ""),
    "tempi the wrong way": (
        "intro",
        intro("I").replace("[60, 240]", "§[240, 60]"),
        "out-of-range",
        "the lower number comes first",
        "",
    ),
    "bad key": ("tune", "title: x\nkey: §H\nfeel: bossa\n", "bad-key", "a key is a note name", ""),
    "key nobody reads": (
        "tune",
        "title: x\nkey: §D# minor\nfeel: bossa\n",
        "bad-key",
        "Did you mean 'Eb minor'",
        "",
    ),
    "bad date": (
        "set",
        "title: x\ngoals: {by: §10.12.2026}\ntunes: [{title: y, key: C, feel: bossa}]\n",
        "bad-date",
        "a day is needed, its year first, such as 2026-12-10; '10.12.2026' is given",
        "",
    ),
    "bad meter": ("tune", TUNE + "meter: §7/8\n", "bad-meter", "a meter is one of 3/4, 4/4, 5/4", ""),
    "bad first chord": ("tune", TUNE + "first_chord: ii§q\n", "bad-numeral", "'iiq'", ""),
    "bad landing": (
        "tune",
        TUNE + "landing: §cuts\n",
        "not-allowed",
        "allowed are cut",
        "Did you mean 'cut'?",
    ),
    "feel that is not there": (
        "tune",
        "title: x\nkey: C\nfeel: §medum swing\n",
        "not-there",
        "no feel 'medum swing'",
        "Did you mean 'medium-swing'?",
    ),
    "intro that is not there": (
        "tune",
        TUNE + "intro: §dominant-wamp\n",
        "not-there",
        "no intro",
        "Did you mean 'dominant-vamp'?",
    ),
    "comping that is not there": (
        "intro",
        intro("I", more="comping: §charlston\n"),
        "not-there",
        "no comping",
        "Did you mean 'charleston'?",
    ),
    "bass that is not there": (
        "intro",
        intro("I", more="bass: §wlking\n"),
        "not-there",
        "no bass",
        "Did you mean 'walking'?",
    ),
    "rig that is not there": (
        "set",
        "title: x\nrig: §defalt\ntunes:\n  - tune: late-bus-to-orrin\n",
        "not-there",
        "no rig 'defalt'",
        "Did you mean 'default'?",
    ),
    "port that is not there": (
        "rig",
        RIG.replace("port: main", "port: §mian"),
        "not-there",
        "its ports are main",
        "Did you mean 'main'?",
    ),
    "tune that is not there": (
        "set",
        "title: x\ntunes:\n  - tune: §late-bus\n  - tune: lantern-for-edda\n",
        "not-there",
        "no tune 'late-bus'",
        "Did you mean 'late-bus-to-orrin'?",
    ),
    "name that is far from any": (
        "set",
        "title: x\nrig: §qqq\ntunes:\n  - tune: lantern-for-edda\n",
        "not-there",
        "no rig 'qqq'",
        "There are: default, demo, fluidsynth, hardware-synth, press-only-switch, two-switches.",
    ),
    "feel in another meter": (
        "tune",
        TUNE + "§meter: 3/4\n",
        "does-not-fit",
        "felt in 4/4; the tune is in 3/4",
        "",
    ),
    "intro without the mode": (
        "tune",
        "title: x\nkey: C minor\nfeel: bossa\n§intro: sharp-four-descent\n",
        "does-not-fit",
        "has no minor form",
        "",
    ),
    "intro without the meter": (
        "tune",
        "title: x\nkey: C\nfeel: jazz-waltz\n§intro: riff-turnaround\n",
        "does-not-fit",
        "goes in 4/4",
        "",
    ),
    "numeral deep in a block": ("intro", intro("iii7 VI7 |\n      ii7 V7§%"), "bad-numeral", "'V7%'", ""),
    "note name for a numeral": ("intro", intro("ii7 §G7 | I"), "bad-numeral", "chords by note name", ""),
    "three chords in four": (
        "intro",
        intro("I | §I ii V"),
        "bad-bar",
        "bar 2 holds 3 chords or dots; in 4/4",
        "",
    ),
    "four chords in three": (
        "intro",
        intro("§I . ii V", meters="[4/4, 3/4]"),
        "bad-bar",
        "in 3/4 a bar holds 1, 2 or 3",
        "Or take the meter out of `meters`.",
    ),
    "dot at the beginning": ("intro", intro("I | §. V7"), "bad-bar", "never begins a bar", ""),
    "dots without spaces": ("intro", intro("I §... "), "bad-bar", "dots have spaces between", ""),
    "repeat of nothing": ("intro", intro("§% | I"), "bad-bar", "there is none", ""),
    "empty bar": (
        "intro",
        intro("I | §| V7"),
        "bad-bar",
        "nothing in it",
        "Write % to repeat the bar before.",
    ),
    "form that leads nowhere": (
        "intro",
        intro("I", form="# none").replace("- mode", "- §mode"),
        "missing-key",
        "needs 'leads_to'",
        "",
    ),
    "form that leads twice": (
        "intro",
        intro("I H").replace("- mode", "- §mode"),
        "does-not-fit",
        "ends on H",
        "",
    ),
    "first chord too exact": (
        "intro",
        intro("I", form="leads_to: §ii7"),
        "bad-numeral",
        "named by its numeral alone",
        "Write ii.",
    ),
    "texture that is none": (
        "intro",
        intro("I", more="texture: §roled\n"),
        "not-allowed",
        "block, rolled",
        "Did you mean 'rolled'?",
    ),
    "pedal point off the key": ("intro", intro("I", more="pedal: §8\n"), "not-allowed", "1 to 7", ""),
    "slow above fast": (
        "intro",
        intro("I", more="stretch_above: 100\n§halve_below: 120\n"),
        "does-not-fit",
        "halve_below",
        "",
    ),
    "feel an intro cannot have": (
        "intro",
        intro("I").replace("feels: [", "§feels: [jazz-waltz, "),
        "does-not-fit",
        "'jazz-waltz' is felt in 3/4",
        "",
    ),
    "no position": ("comping", RHYTHM + "1 held, §x short\n", "bad-figure", "'x' is no position", ""),
    "beyond the bar": ("comping", RHYTHM + "1 held, §5 short\n", "bad-bar", "has 4 beats", ""),
    "out of order": (
        "comping",
        RHYTHM + "2 held, §1 short\n",
        "bad-figure",
        "does not come after '2 held'",
        "",
    ),
    "word misspelt": ("comping", RHYTHM + "1 §hled\n", "bad-figure", "'hled'", "Did you mean 'held'?"),
    "two lengths": ("comping", RHYTHM + "§1 held 2\n", "bad-figure", "is enough", ""),
    "too long a hit": ("comping", RHYTHM + "§1 2, 2 held\n", "bad-bar", "1 beats are left", ""),
    "too long for the bar": ("bass", STEPS + "1 root 2, §3 fifth 3\n", "bad-bar", "2 beats are left", ""),
    "two commas": ("comping", RHYTHM + "1 held,§, 3 short\n", "bad-figure", "between two commas", ""),
    "only rests": (
        "comping",
        "name: x\nmeter: 4/4\nrhythm: §|\n  rest\n",
        "bad-figure",
        "a hit in at least one",
        "",
    ),
    "tone that is none": ("bass", STEPS + "1 §rot\n", "bad-figure", "a bass tone", "Did you mean 'root'?"),
    "no tone": ("bass", STEPS + "§1\n", "bad-figure", "a bass tone", ""),
    "beyond the second bar of bass": ("bass", STEPS + "1 root\n  §5 root\n", "bad-bar", "has 4 beats", ""),
    "nothing but skips": (
        "bass",
        "name: x\nmeter: 4/4\nsteps: §|\n  rest\n  &2 skip\n",
        "bad-figure",
        "a note in at least one bar",
        "",
    ),
    "bass mark misspelt": (
        "bass",
        STEPS + "1 root §psh\n",
        "bad-figure",
        "push, sometimes",
        "Did you mean 'push'?",
    ),
    "bass filled by what is not known": (
        "bass",
        STEPS + "1 root\nfill: §answring\n",
        "not-allowed",
        "allowed is answering",
        "Did you mean 'answering'?",
    ),
    "a word too many": ("bass", STEPS + "1 root 2 §3 fifth 2\n", "bad-figure", "a comma begins the next", ""),
    "call misread": (
        "set",
        "title: x\ntunes:\n  - call: medium swing, Ab, starts on §twoo\n  - tune: lantern-for-edda\n",
        "bad-call",
        "or one of one, two",
        "",
    ),
    "entry that is none": (
        "set",
        "title: x\ntunes:\n  - §lantern\n  - tune: lantern-for-edda\n",
        "wrong-type",
        "no entry of a set",
        "",
    ),
    "no tunes": ("set", "title: x\ntunes: §[]\n", "wrong-type", "a list of tunes", ""),
    "channel 0": ("rig", RIG.replace("channel: 1", "channel: §0"), "out-of-range", "allowed is 1 to 16", ""),
    "program 129": (
        "rig",
        RIG.replace("channel: 1", "channel: 1, program: §129"),
        "out-of-range",
        "1 to 128",
        "",
    ),
    "part that is none": (
        "rig",
        RIG.replace("comp:", "§comping:"),
        "unknown-key",
        "'comping'",
        "Did you mean 'comp'?",
    ),
    "port that goes nowhere": (
        "rig",
        RIG.replace("{to: any, from: any}", "§{system: jack}"),
        "missing-key",
        "neither sends nor listens",
        "",
    ),
    "two sounds on a channel": (
        "rig",
        RIG.replace("parts:", "§parts:").replace("1}\n", "1, program: 1}\n")
        + "  bass: {port: main, channel: 1, program: 33}\n",
        "does-not-fit",
        "share channel 1",
        "",
    ),
    "hysteresis reversed": (
        "rig",
        RIG + "foot_switch:\n  on_at: 50\n  §off_at: 60\n",
        "out-of-range",
        "must lie under on_at",
        "",
    ),
    "note that is none": ("rig", RIG + "key_zone:\n  low: §X1\n", "wrong-type", "'X1' is no note", ""),
    "note off the keyboard": ("rig", RIG + "key_zone:\n  high: §B9\n", "out-of-range", "G9 (127)", ""),
    "zone upside down": ("rig", RIG + "key_zone:\n  §low: C5\n", "out-of-range", "above its highest", ""),
    "minor half outside": (
        "rig",
        RIG + "key_zone:\n  §minor_from: C5\n",
        "out-of-range",
        "outside the zone",
        "",
    ),
    "typical tempo outside": (
        "feel",
        "name: x\nmeters: [4/4]\ntempo: [60, 80]\n§typical_tempo: 90\ncomping: [held]\nbass: [roots]\n",
        "out-of-range",
        "outside the feel's tempo",
        "",
    ),
    "meter without comping": (
        "feel",
        "name: x\nmeters: [4/4, 3/4]\ntempo: [60, 80]\ntypical_tempo: 70\n§comping: [held]\n"
        "bass: [roots, roots-in-three]\n",
        "does-not-fit",
        "no comping named here is in 3/4",
        "",
    ),
    "swing too strong": (
        "feel",
        "name: x\nmeters: [4/4]\ntempo: [60, 80]\ntypical_tempo: 70\ncomping: [held]\nbass: [roots]\n"
        "swing:\n  ride: {70: §4}\n",
        "out-of-range",
        "allowed is 1 to 3.5",
        "",
    ),
    "kind that is none": ("tune", "kind: §tun\n" + TUNE, "unknown-kind", "'tun'", "Did you mean 'tune'?"),
    "kind against the folder": (
        "tune",
        "kind: §set\n" + TUNE,
        "unknown-kind",
        "a folder for kind 'tune'",
        "",
    ),
    "tab": ("tune", "title: x\nkey:\n§\tC\n", "syntax", "a tab cannot indent", "Use spaces."),
    "second colon": ("tune", "title: a§: b\n", "syntax", "a second ': '", "Put quotes round"),
    "sign at the beginning": ("tune", "title: §%x\n", "syntax", "cannot begin with '%'", "Put quotes round"),
    "no space after the colon": (
        "tune",
        "title: x\n§key:C\nfeel: bossa\n",
        "syntax",
        "neither",
        "A colon needs",
    ),
    "open quote": ("tune", "title: 'x\n§", "syntax", "never closed", ""),
    "open bracket": (
        "intro",
        "name: y\nmeters: [4/4\nname§: x\n",
        "syntax",
        "not closed",
        "It opens in line 2, column 9.",
    ),
    "chords beside the bar line": (
        "intro",
        "harmony: | §I V7\n",
        "syntax",
        "beside the `|`",
        "After `harmony: |` the music begins on the next line",
    ),
}


@pytest.mark.parametrize("name", TABLE)
def test_mistake(name: str, problem_at: ProblemAt) -> None:
    kind, text, code, said, hint = TABLE[name]
    problem = problem_at(kind, text)
    assert problem.code == code
    assert said in problem.message
    assert problem.hint.startswith(hint) if hint else not problem.hint.startswith("Did you mean"), (
        problem.hint
    )


def test_all_mistakes_of_a_file_are_told_at_once_and_in_order(read: Read) -> None:
    text = (
        "titel: x\nkey: H\nmeter: 6/8\ntempo: fast\nfeel: jazz waltz\nfirst_chord: xx\npickup: -1\n"
        "intro: none\ncount_off: 9\nlanding: ring\nnotes: [a]\n"
    )
    thing, problems = read("tune", text)
    assert thing is None
    assert [(problem.line, problem.code) for problem in problems] == [
        (1, "missing-key"),
        (1, "unknown-key"),
        (2, "bad-key"),
        (3, "bad-meter"),
        (4, "wrong-type"),
        (5, "not-there"),
        (6, "bad-numeral"),
        (7, "out-of-range"),
        (8, "not-there"),
        (9, "out-of-range"),
        (10, "not-allowed"),
        (11, "wrong-type"),
    ]


def test_every_numeral_of_a_form_is_told(read: Read) -> None:
    _, problems = read("intro", intro("I7x V7 | q |\n      ii7 V7y"))
    assert [(problem.line, problem.column, problem.code) for problem in problems] == [
        (10, 9, "bad-numeral"),
        (10, 16, "bad-numeral"),
        (11, 13, "bad-numeral"),
    ]


def test_the_line_shown_has_place_message_and_hint(problem_at: ProblemAt) -> None:
    problem = problem_at("tune", TUNE + "§temp: 120\n")
    assert str(problem).startswith(f"{problem.path}:4:1: 'temp' means nothing in a tune; keys are ")
    assert str(problem).endswith(". Did you mean 'tempo'?")


def test_a_folder_is_no_file(tmp_path: object, read: Read, library: object) -> None:
    from introit.library.loader import read_file

    thing, problems = read_file(tmp_path, library)  # type: ignore[arg-type]
    assert thing is None
    assert [problem.code for problem in problems] == ["unreadable"]


def test_the_table_covers_the_codes() -> None:
    elsewhere = {"unreadable", "too-big", "not-text", "nested", "left-out", "bad-name", "same-name"}
    traps = {code for code in CODES if code.startswith("yaml-")}
    assert {code for _, _, code, _, _ in TABLE.values()} == set(CODES) - elsewhere - traps
    assert {kind for kind, *_ in TABLE.values()} == set(KINDS)
