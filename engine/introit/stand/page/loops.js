// Bars that go round: chosen in the music or by keys, begun and left.

import { beatAt } from "./systems.js";

const named = ([first, last]) => (first === last ? `bar ${first}` : `bars ${first}–${last}`);

export class Loops {
  // parts: music, loop, more and the words on them. ask(first, last): has bars go round. leave(): goes on from there.
  // changed(range, words, goes): what is to be marked.
  constructor(parts, { ask, leave, changed }) {
    this.parts = parts;
    this.ask = ask;
    this.changed = changed;
    this.chosen = null; // [first, last], from 1
    this.goes = null; // likewise
    this.here = 1; // the bar with the cursor
    this.systems = [];
    this.bar = 4;
    this.bars = 0;
    parts.loop.addEventListener("click", () => (this.goes ? leave() : this.ask(...this.range)));
    parts.more.addEventListener("click", () => this.more());
    let from = null;
    parts.music.addEventListener("pointerdown", (event) => {
      from = event.button === 0 ? this.barAt(event) : null;
      this.before = this.chosen;
    });
    parts.music.addEventListener("pointermove", (event) => {
      if (from === null || event.buttons !== 1) return;
      const to = this.barAt(event);
      if (to !== null && to !== from) this.choose([Math.min(from, to), Math.max(from, to)]);
    });
    parts.music.addEventListener("pointerup", (event) => {
      const to = from === null ? null : this.barAt(event);
      if (to !== null && to === from) {
        const same = this.before && this.before[0] === to && this.before[1] === to;
        this.choose(same ? null : [to, to]);
      }
      from = null;
    });
    for (const kind of ["pointercancel", "pointerleave"]) parts.music.addEventListener(kind, () => { from = null; });
  }

  // What the button would have go round.
  get range() {
    return this.chosen ?? [this.here, this.here];
  }

  // Another passage.
  hear(systems, lesson) {
    this.systems = systems;
    this.bar = lesson.bar;
    this.bars = Math.round(lesson.beats / lesson.bar);
    this.chosen = null;
    this.show();
  }

  // What goes round is told; zeros for nothing.
  told(first, last) {
    const goes = first > 0 ? [first, last] : null;
    if (String(goes) === String(this.goes)) return;
    this.goes = goes;
    if (goes) this.chosen = goes;
    this.show();
  }

  at(beat) {
    const here = Math.max(1, Math.min(Math.floor(beat / this.bar + 0.001) + 1, this.bars));
    if (here === this.here) return;
    this.here = here;
    this.show();
  }

  choose(range) {
    if (String(range) === String(this.chosen)) return;
    this.chosen = range;
    this.show();
  }

  // One bar more; behind the last bar, one bar alone again.
  more() {
    const [first, last] = this.goes ?? this.range;
    const range = last < this.bars ? [first, last + 1] : [first, first];
    this.choose(range);
    if (this.goes) this.ask(...range);
  }

  barAt(event) {
    for (const { figure, places, end } of this.systems) {
      const box = figure.getBoundingClientRect();
      if (event.clientY < box.top || event.clientY > box.bottom) continue;
      const beat = beatAt(places, (event.clientX - box.left) / box.width, end);
      return beat === null ? null : Math.min(Math.floor(beat / this.bar + 0.001) + 1, this.bars);
    }
    return null;
  }

  show() {
    const { goes, chosen } = this;
    this.parts.loopWords.textContent = goes ? "On to the head" : `Loop ${named(this.range)}`;
    this.changed(goes ?? chosen, goes ? `${named(goes)}, round and round` : chosen ? named(chosen) : "", goes !== null);
  }
}
