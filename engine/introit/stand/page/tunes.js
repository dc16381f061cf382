// The set view: the tunes in order, which one it is now, and next, back or another.

import { prettyKey } from "./chord.js";
import { SetEditor } from "./set_edit.js";

const CHANGES = new Set(["ready", "in the tune"]);

export class Tunes {
  constructor(elements, { choose }) {
    this.elements = elements;
    this.choose = choose;
    this.tunes = [];
    this.now = null;
    this.drawn = "";
    this.watches = false;
    this.editor = new SetEditor();
  }

  // A set as the stand tells it: {tunes: [{title, key, tempo, intro}]}, or titles alone.
  hear(set) {
    const tunes = Array.isArray(set.tunes) ? set.tunes : [];
    this.tunes = tunes.map((tune, place) => {
      const given = typeof tune === "string" ? { title: tune } : tune;
      return { ...given, index: Number.isInteger(given.tune) ? given.tune : (given.index ?? place) };
    });
    this.editor.hear(set);
    this.draw();
  }

  show(snapshot) {
    this.now = snapshot;
    this.editor.show(snapshot.tune, this.watches);
    this.draw();
  }

  draw() {
    const { list, word, next, back } = this.elements;
    const state = this.now ? this.now.state : "";
    const may = CHANGES.has(state) && !this.watches;
    const name = JSON.stringify([this.tunes, this.now && this.now.tune, may]);
    if (name === this.drawn) return;
    this.drawn = name;
    word.textContent = this.tunes.length === 0
      ? "The set has not been told yet."
      : this.watches ? "This device only looks on."
      : may ? "Touch a tune to make it ready." : `Another tune can be chosen once this one has landed (now: ${state}).`;
    for (const button of [next, back]) button.disabled = !may;
    const focused = document.activeElement && document.activeElement.dataset.tune;
    list.replaceChildren(...this.tunes.map((tune, place) => this.row(tune, place, may)));
    if (focused) list.querySelector(`[data-tune="${CSS.escape(focused)}"]`)?.focus();
    list.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest" });
  }

  row(tune, place, may) {
    const isNow = this.now !== null && this.now.tune === tune.index;
    const button = document.createElement("button");
    button.type = "button";
    button.disabled = !may;
    button.dataset.tune = tune.index;
    if (isNow) button.setAttribute("aria-current", "true");
    const facts = [prettyKey(tune.key ?? ""), tune.tempo ? `at ${round(tune.tempo)}` : "", tune.intro_name ?? tune.intro ?? ""];
    button.append(
      cell("place", String(place + 1)),
      cell("name", tune.title ?? ""),
      cell("mark", isNow ? "now" : ""),
      cell("facts", facts.filter((fact) => fact).join(" · ")),
    );
    button.addEventListener("click", () => this.choose(tune.index));
    const item = document.createElement("li");
    item.append(button);
    return item;
  }
}

const round = (tempo) => Math.round(tempo * 10) / 10;

function cell(name, text) {
  const made = document.createElement("span");
  made.className = name;
  made.textContent = text;
  return made;
}
