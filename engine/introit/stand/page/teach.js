// The teaching view: the engraved passage with a cursor that goes with the sound, the present grip on a neck by
// degrees, what the present chord does and what the motif. While nothing plays, one steps through it.

import { keepIn, markBars, markMotif, strips } from "./marks.js";
import { across, latest } from "./systems.js";

const SVG = "http://www.w3.org/2000/svg";
const OPEN = 26; // room left of the nut, in the neck's units
const FRET = 74;
const STRING = 40;
const DOT = 17;

function make(kind, attributes, ...children) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.append(...children);
  return made;
}

// A drawing from [tag, attributes, children]: nothing is ever read as markup.
function build([tag, attributes, children]) {
  return make(tag, attributes, ...children.map(build));
}

export class Teach {
  // parts: elements of the view. loops: bars that go round.
  constructor(parts, loops) {
    this.parts = parts;
    this.loops = loops;
    this.lesson = null;
    this.systems = [];
    this.step = 0;
    this.playing = false;
    this.drawn = "";
    this.current = null; // the system with the cursor
    new ResizeObserver(() => this.resized()).observe(parts.music);
    parts.blank.addEventListener("click", () => this.blank(true));
    parts.curtain.addEventListener("click", () => this.blank(false));
  }

  hear(lesson) {
    this.parts.error.textContent = lesson.error ?? "";
    if (lesson.error) return;
    this.lesson = lesson;
    this.step = 0;
    this.drawn = "";
    this.current = null;
    this.systems = lesson.systems.map((system, index) => ({
      ...this.system(system),
      share: system.share,
      high: system.height / system.width,
      places: system.beats,
      end: lesson.systems[index + 1]?.beats[0]?.[0] ?? Math.max(lesson.beats, (system.beats.at(-1)?.[0] ?? 0) + 1),
      width: system.width,
    }));
    this.parts.music.replaceChildren(...this.systems.map(({ figure }) => figure));
    markMotif(this.systems, lesson.motif);
    this.motifs = new Map(
      lesson.chords.map((chord, index) => {
        const until = lesson.chords[index + 1]?.beat ?? lesson.beats;
        return [chord, lesson.motif.findLast(({ beat, end }) => beat < until && end > chord.beat + 0.02)];
      }),
    );
    this.loops.hear(this.systems, lesson);
    this.resized();
    this.show(0);
  }

  // As wide as there is room, and never so wide that a system is higher than its room.
  resized() {
    const { clientWidth, clientHeight } = this.parts.music;
    for (const { figure, share, high, above, beneath } of this.systems) {
      const room = clientHeight - above.offsetHeight - beneath.offsetHeight;
      figure.style.width = `${Math.min(clientWidth * share, room / high)}px`;
    }
    keepIn(this.systems);
    this.seen();
  }

  // The system with the cursor is in sight.
  seen() {
    this.current?.scrollIntoView({ block: "nearest" });
  }

  // The drawing, its letters on it, and a cursor.
  system(system) {
    const figure = document.createElement("div");
    figure.className = "teach-system";
    const drawing = build(system.drawing);
    const inner = drawing.querySelector("svg") ?? drawing;
    const [left, top, , height] = (inner.getAttribute("viewBox") ?? "0 0 0 0").split(" ").map(Number);
    for (const letter of system.letters) {
      const text = make("text", {
        x: left + letter.x, y: top + letter.y, "font-size": letter.size, "text-anchor": letter.anchor,
        "font-style": letter.style, "font-weight": letter.weight === "bold" ? 700 : 400,
      });
      text.textContent = letter.text;
      inner.append(text);
    }
    inner.append(make("rect", { class: "teach-here", x: left, y: top, width: 190, height, rx: 90 }));
    drawing.setAttribute("aria-hidden", "true");
    const { above, behind, beneath } = strips();
    figure.append(above, behind, drawing, beneath);
    return { figure, above, behind, beneath, cursor: inner.querySelector(".teach-here") };
  }

  // Where it is: so many beats from the first, null while nothing plays.
  frame(beat) {
    this.playing = beat !== null;
    if (this.playing) this.show(beat);
  }

  // Nothing plays any more: back to where one had stepped.
  rest() {
    this.playing = false;
    if (this.lesson) this.show(this.lesson.chords[this.step]?.beat ?? 0);
  }

  go(by) {
    this.goTo(this.step + by);
  }

  goTo(step) {
    if (!this.lesson || this.playing) return;
    this.step = Math.min(Math.max(step, 0), this.lesson.chords.length - 1);
    this.show(this.lesson.chords[this.step].beat);
  }

  // Bars that go round, or are to.
  mark(range, words, goes) {
    if (!this.lesson) return;
    markBars(this.systems, range, this.lesson.bar, words, goes);
    keepIn(this.systems);
  }

  show(beat) {
    if (!this.lesson) return;
    for (const { figure, places, end, cursor, width } of this.systems) {
      const part = across(places, beat, end);
      if (part !== null && this.current !== figure) {
        this.current = figure;
        this.seen();
      }
      cursor.toggleAttribute("data-off", part === null);
      if (part !== null) cursor.setAttribute("transform", `translate(${part * width - 40} 0)`);
    }
    this.loops.at(beat);
    const chord = latest(this.lesson.chords, beat) ?? this.lesson.chords[0];
    const held = latest(this.lesson.grips, beat);
    const sounds = held && held.of >= (chord?.beat ?? 0) ? held : null; // not that of a chord that is over
    // Who steps sees each chord's own, though it is struck later than the chord begins.
    const grip = sounds ?? (this.playing ? null : this.lesson.grips.find(({ of }) => of === chord?.beat)) ?? null;
    const motif = chord ? this.motifs.get(chord) : null;
    const name = `${chord?.beat} ${grip?.beat}`;
    if (name === this.drawn) return;
    this.drawn = name;
    this.parts.symbol.textContent = chord?.symbol ?? "";
    this.parts.numeral.textContent = chord?.numeral ?? "";
    this.parts.motif.textContent = motif ? `In the melody: ${motif.how}.` : "";
    this.parts.words.textContent = chord?.lesson ?? "";
    this.neck(grip);
  }

  // The present grip on a neck, lowest string at the bottom, degrees on the dots; open and silent strings at the left.
  neck(grip) {
    const { neck, neckWords } = this.parts;
    neck.toggleAttribute("hidden", !grip);
    neckWords.textContent = grip ? "" : "No guitar grip here.";
    if (!grip) return;
    const strings = this.lesson.strings;
    const width = OPEN * 2 + FRET * grip.rows + 14;
    const height = STRING * strings + 22;
    const y = (string) => STRING * (string - 0.5);
    const lines = [];
    for (let row = 0; row <= grip.rows; row += 1) {
      const nut = row === 0 && grip.first === 1;
      lines.push(make("line", { class: nut ? "nut" : "fret", x1: OPEN * 2 + row * FRET, x2: OPEN * 2 + row * FRET, y1: y(1), y2: y(strings) }));
    }
    for (let string = 1; string <= strings; string += 1) {
      lines.push(make("line", { class: "string", x1: OPEN * 2, x2: OPEN * 2 + FRET * grip.rows, y1: y(string), y2: y(string), "stroke-width": 1 + string * 0.35 }));
    }
    const signs = grip.muted.map((string) => this.sign("silent", OPEN, y(string), "×"));
    for (const place of grip.places) {
      const x = place.fret === 0 ? OPEN : OPEN * 2 + FRET * (place.fret - grip.first + 0.5);
      signs.push(this.sign(place.degree === "R" ? "root" : "dot", x, y(place.string), place.degree, DOT));
    }
    const first = make("text", { class: "first", x: OPEN * 2 + FRET / 2, y: height - 2, "text-anchor": "middle" });
    first.textContent = grip.first > 1 ? `fret ${grip.first}` : "";
    neck.setAttribute("viewBox", `0 0 ${width} ${height}`);
    neck.setAttribute("aria-label", `${grip.symbol}: ${grip.places.map((place) => `string ${place.string} fret ${place.fret}, ${place.degree}`).join("; ")}`);
    neck.replaceChildren(...lines, ...signs, first);
  }

  sign(kind, x, y, words, radius = 0) {
    const text = make("text", { x, y: y + 7, "text-anchor": "middle" });
    text.textContent = words;
    const shape = kind === "root"
      ? make("rect", { x: x - radius, y: y - radius, width: 2 * radius, height: 2 * radius, rx: 3 })
      : make("circle", { cx: x, cy: y, r: radius });
    return make("g", { class: kind }, ...(radius ? [shape] : []), text);
  }

  blank(on) {
    this.parts.curtain.hidden = !on;
    (on ? this.parts.curtain : this.parts.blank).focus();
  }
}
