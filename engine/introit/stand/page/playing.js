// The playing view: what is so, from the snapshot; what beat it is, from the pulse; both only where they changed.

import { aloudKey, draw, pretty, prettyKey, write } from "./chord.js";
import { fit, fitLine } from "./fit.js";
import { Way } from "./way.js";

export class Playing {
  constructor(elements) {
    this.at = elements;
    this.way = new Way(elements);
    this.slots = new Map();
    this.now = null;
    this.beats = 0;
    this.watches = false;
    this.sleepy = false; // whether the screen may go dark by itself
  }

  // All but the beat. `here` is where we are, as from `Pulse.at`, or null.
  show(snapshot, here) {
    this.now = snapshot;
    const at = this.at;
    text(at.title, snapshot.title || "getting ready");
    const tempo = snapshot.tempo ? `at ${round(snapshot.tempo)}` : "";
    text(at.key, prettyKey(snapshot.key));
    text(at.tempo, tempo);
    text(at.intro, snapshot.intro_name || snapshot.intro);
    text(at.state, snapshot.state);
    text(at.text, snapshot.text || (snapshot.state === "ready" ? ahead(snapshot, this.sleepy) : ""));
    text(at.callTempo, tempo);
    this.foot(snapshot);
    this.frame(here);
  }

  frame(here) {
    const snapshot = this.now;
    if (!snapshot) return;
    // The first beat behind a count-off is there before the word of it.
    const state = snapshot.state === "counting off" && here && here.bar > 0 ? "playing" : snapshot.state;
    this.state = state;
    this.pegs(state === "tapping" || here ? snapshot.meter : 0, here ? here.beat : 0);
    if (state === "counting off" || state === "tapping") this.count(here);
    else if (state === "in the tune") this.landed();
    else if (state === "resting") this.rests();
    else if (state === "ready" || state === "") this.ready();
    else if (state === "sound check") this.sounds();
    else this.chords(here);
    this.road(here);
  }

  // What a press does is the largest; where it does nothing, what a hold does.
  foot(snapshot) {
    const at = this.at;
    const { press, double, hold } = this.watches ? { press: "", double: "", hold: "" } : snapshot;
    text(at.footPress, press ? `Press: ${press}` : hold ? `Hold: ${hold}` : this.watches ? "Looking on" : "No press is needed now");
    text(at.footDouble, double && `twice: ${double}`);
    text(at.footHold, press && hold && `hold: ${hold}`);
    at.foot.toggleAttribute("data-idle", !press && !hold);
    fitLine(at.footPress, 0.8);
  }

  count(here) {
    const first = this.now.next ?? this.now.chord;
    if (this.now.state === "tapping") this.word("now", "the bar and its tempo are yours", "tap", "");
    else this.word("now", "count", here ? String(here.beat) : "", "");
    this.chord("then", "first chord", first, "");
  }

  ready() {
    const { key, tempo, chord, next, up_next: upNext } = this.now;
    this.word("now", "key", prettyKey(key) || "–", tempo ? `${round(tempo)} a minute` : "", aloudKey(key));
    const first = chord ?? next;
    if (first) this.chord("then", this.now.step >= 0 ? "in the lesson" : "first chord", first, "");
    else this.word("then", upNext ? "after this tune" : "", upNext, "");
  }

  landed() {
    this.word("now", "the intro is over", "in the tune", prettyKey(this.now.key));
    const upNext = this.now.up_next;
    this.word("then", upNext ? "next tune" : "", upNext || "last of the set", "");
  }

  // Between two passes of practice; what comes is told in the text.
  rests() {
    const coming = /^next: (.+)$/.exec(this.now.text);
    this.word("now", "between two passes", "rest", prettyKey(this.now.key));
    this.word("then", coming ? "next" : "", coming ? coming[1] : "once more", "");
  }

  sounds() {
    this.word("now", "at the level they play at, in turn", this.now.text || "sound check", "");
    this.word("then", "", "", "");
  }

  chords(here) {
    const chord = here ? here.chord : this.now.chord;
    const next = here ? here.next : this.now.next;
    const waits = this.state === "waiting" ? "rings until you press" : "now";
    if (chord) this.chord("now", waits, chord, pretty(chord.numeral));
    else this.word("now", "", this.state, "");
    const isHead = next && next.in_beats >= (here ? here.toldToHead : this.now.beats_to_head);
    if (next) this.chord("then", this.soon(here, isHead ? "head" : "then"), next, pretty(next.numeral));
    else if (chord && !(here && here.turned)) this.word("then", this.soon(here), "head", "");
    else this.word("then", "", "", "");
  }

  soon(here, what = "then") {
    if (this.state === "out of time") return what === "head" ? "next press: the head" : "next press";
    if (!here || (this.state !== "playing" && this.state !== "vamping")) return what;
    const beats = Math.ceil(here.nextIn ?? here.left);
    return beats === 1 ? `${what}, in 1 beat` : `${what}, in ${beats} beats`;
  }

  road(here) {
    const { meter, pickup, beats_in_all: all } = this.now;
    const state = this.state;
    this.way.shape(all, meter, pickup);
    const playing = state === "playing" || state === "vamping";
    const stands = state === "waiting" || state === "out of time";
    let toHead = all;
    if (state === "in the tune" || state === "resting") toHead = 0;
    else if (playing && here) toHead = here.toHead;
    else if (playing || stands) toHead = this.now.beats_to_head;
    this.way.drain(Math.min(toHead, all));
    const [count, unit] = this.words(here, all);
    text(this.at.wayCount, count);
    text(this.at.wayUnit, unit);
  }

  words(here, all) {
    const { meter, pickup } = this.now;
    const state = this.state;
    if (state === "in the tune") return ["", "this is the head"];
    if (state === "resting") return ["", ""];
    if (state === "vamping") return ["", "round and round"];
    if (state === "waiting") return ["", "time waits"];
    if (state === "out of time") return ["", "no time yet"];
    if (state === "sound check") return ["", ""];
    if (!all) return ["", ""];
    const left = state === "playing" ? (here ? here.left : this.now.beats_to_head) : all;
    if (state === "playing" && left <= 0) return ["", "head"];
    if (state === "playing" && left <= pickup) return [String(left), "pickup!"];
    if (left <= meter && state === "playing") return [String(left), left === 1 ? "beat to the head" : "beats to the head"];
    const bars = Math.ceil(left / meter);
    return [String(bars), bars === 1 ? "bar to the head" : "bars to the head"];
  }

  // One peg a beat; the lit one is the large one with its number.
  pegs(count, lit) {
    const { beats } = this.at;
    if (count !== this.beats) {
      this.beats = count;
      beats.replaceChildren(
        ...Array.from({ length: count }, (_, place) => {
          const peg = document.createElement("span");
          peg.textContent = String(place + 1);
          return peg;
        }),
      );
    }
    if (beats.dataset.lit === String(lit)) return;
    beats.dataset.lit = String(lit);
    [...beats.children].forEach((peg, place) => peg.toggleAttribute("data-lit", place + 1 === lit));
  }

  chord(slot, label, chord, under) {
    this.fill(slot, label, under, `chord ${chord ? chord.symbol : ""}`, (huge) => {
      if (chord) draw(huge, chord.symbol);
      else huge.textContent = "";
    });
  }

  word(slot, label, word, under, aloud) {
    this.fill(slot, label, under, `word ${word}`, (huge) => write(huge, word, aloud));
  }

  fill(slot, label, under, what, drawn) {
    const before = this.slots.get(slot) ?? {};
    if (before.label !== label) this.at[`${slot}Label`].textContent = label;
    if (before.under !== under) this.at[`${slot}Under`].textContent = under;
    if (before.what !== what) {
      drawn(this.at[`${slot}Huge`]);
    }
    this.slots.set(slot, { label, under, what });
    if (before.what !== what || !before.under !== !under || !before.label !== !label) {
      fit(this.at[`${slot}Huge`], 0.98);
    }
  }

  // Another size of the page: everything is measured anew.
  resized(here) {
    if (!this.now) return;
    this.slots.clear();
    this.show(this.now, here);
  }
}

// What will be led by foot, that the tune has a pickup, and what had better be seen to before.
function ahead({ course, pickup }, sleepy) {
  const beats = pickup > 0 && `pickup of ${pickup} ${pickup === 1 ? "beat" : "beats"}`;
  const dark = sleepy && "the screen may go dark (see Key)";
  return [beats, course, dark].filter((words) => words).join("; ");
}

function text(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

const round = (tempo) => Math.round(tempo * 10) / 10;
