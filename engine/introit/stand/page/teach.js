// The teaching view: the engraved passage with a cursor that goes with the sound, the present grip on a neck by
// degrees, and what the present chord does. While nothing plays, one steps through it by hand.

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

// The last of those that begin by a beat; they rise. Pure.
export function latest(list, beat) {
  let found = null;
  for (const one of list) {
    if (one.beat > beat + 0.02) break;
    found = one;
  }
  return found;
}

// Where in a system a beat stands, from 0 to 1; null where it is in another one. Pure.
export function across(places, beat, end) {
  if (!places.length || beat < places[0][0] - 0.001 || beat >= end) return null;
  for (let index = 0; index < places.length; index += 1) {
    const [from, x] = places[index];
    const [to, next] = places[index + 1] ?? [end, 0.985];
    if (beat < to) return x + ((next - x) * (beat - from)) / Math.max(0.001, to - from);
  }
  return null;
}

export class Teach {
  // parts: elements of the view. orders: sends what is asked for.
  constructor(parts, orders) {
    this.parts = parts;
    this.orders = orders;
    this.lesson = null;
    this.systems = [];
    this.step = 0;
    this.playing = false;
    this.drawn = "";
    this.alone = "";
    this.current = null; // the system with the cursor
    new ResizeObserver(() => this.resized()).observe(parts.music);
    parts.back.addEventListener("click", () => this.go(-1));
    parts.on.addEventListener("click", () => this.go(1));
    parts.blank.addEventListener("click", () => this.blank(true));
    parts.curtain.addEventListener("click", () => this.blank(false));
    parts.slower.addEventListener("click", () => orders.order("slower"));
    parts.faster.addEventListener("click", () => orders.order("faster"));
    for (const button of parts.voices) {
      button.addEventListener("click", () => this.hearAlone(button.value));
    }
  }

  hear(lesson) {
    this.parts.error.textContent = lesson.error ?? "";
    if (lesson.error) return;
    this.lesson = lesson;
    this.step = 0;
    this.drawn = "";
    this.current = null;
    this.parts.music.replaceChildren(...lesson.systems.map((system) => this.system(system)));
    this.systems = lesson.systems.map((system, index) => ({
      figure: this.parts.music.children[index],
      share: system.share,
      high: system.height / system.width,
      places: system.beats,
      end: lesson.systems[index + 1]?.beats[0]?.[0] ?? Math.max(lesson.beats, (system.beats.at(-1)?.[0] ?? 0) + 1),
      cursor: this.parts.music.children[index].querySelector(".teach-here"),
      width: system.width,
    }));
    this.resized();
    this.show(0);
  }

  // As wide as there is room, and never so wide that a system is higher than its room.
  resized() {
    const { clientWidth, clientHeight } = this.parts.music;
    for (const { figure, share, high } of this.systems) {
      figure.style.width = `${Math.min(clientWidth * share, clientHeight / high)}px`;
    }
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
    figure.append(drawing);
    return figure;
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
    if (!this.lesson || this.playing) return;
    this.step = Math.min(Math.max(this.step + by, 0), this.lesson.chords.length - 1);
    this.show(this.lesson.chords[this.step].beat);
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
    const chord = latest(this.lesson.chords, beat) ?? this.lesson.chords[0];
    const held = latest(this.lesson.grips, beat);
    const grip = held && held.of >= (chord?.beat ?? 0) ? held : null; // not that of a chord that is over
    const name = `${chord?.beat} ${grip?.beat}`;
    if (name === this.drawn) return;
    this.drawn = name;
    this.parts.symbol.textContent = chord?.symbol ?? "";
    this.parts.numeral.textContent = chord?.numeral ?? "";
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

  // One voice alone: the others are muted; the same again, and all are heard.
  async hearAlone(voice) {
    this.alone = this.alone === voice ? "" : voice;
    for (const button of this.parts.voices) button.setAttribute("aria-pressed", String(button.value === this.alone));
    for (const button of this.parts.voices) {
      await this.orders.order("mute", { part: button.value, value: this.alone && button.value !== this.alone ? 1 : 0 });
    }
    if (this.alone !== "bass") await this.orders.order("mute", { part: "pedal", value: this.alone ? 1 : 0 });
    else await this.orders.order("mute", { part: "pedal", value: 0 });
  }
}
