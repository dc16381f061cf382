// The set view's other half: the tunes put in another order, and each played in another way.

import { Changing } from "./changing.js";
import { prettyKey } from "./chord.js";
import { draggable } from "./dragging.js";
import { EntryForm } from "./entry.js";

const byId = (id) => document.getElementById(id);

export class SetEditor {
  constructor() {
    this.set = { revision: "", why: "", tunes: [] };
    this.now = null;
    this.watches = false;
    this.on = false;
    this.held = false;
    this.drawn = "";
    this.list = byId("entries");
    this.button = byId("set-edit");
    this.changing = new Changing((sentence, stale) => this.refused(sentence, stale));
    this.form = new EntryForm(this.changing, (tune) => tune && this.focus(tune.tune, "change"));
    this.button.addEventListener("click", () => this.turn(!this.on));
    this.turn(false);
  }

  hear(set) {
    this.set = { ...set, tunes: Array.isArray(set.tunes) ? set.tunes : [] };
    this.changing.hear(set.revision ?? "");
    this.draw();
  }

  show(tune, watches) {
    this.now = tune;
    this.watches = watches;
    this.draw();
  }

  turn(on) {
    this.on = on;
    this.say("");
    byId("set").toggleAttribute("data-editing", on);
    byId("tunes").hidden = byId("set-word").hidden = byId("set-back").hidden = byId("set-next").hidden = on;
    this.list.hidden = !on;
    this.button.textContent = on ? "Done" : "Change the set";
    this.drawn = "";
    this.draw();
  }

  draw() {
    if (this.held) return;
    const { revision, why, tunes, choices } = this.set;
    const may = Boolean(revision && choices) && !this.watches;
    if (this.on && this.watches) {
      this.turn(false);
      return;
    }
    this.button.hidden = this.watches;
    this.button.disabled = !may && !this.on;
    byId("edit-why").textContent = this.watches || may ? "" : (why ?? "");
    const name = JSON.stringify([tunes, this.now, may, this.on]);
    if (name === this.drawn) return;
    this.drawn = name;
    if (!this.on) {
      this.list.replaceChildren();
      return;
    }
    const focused = document.activeElement;
    const { tune, part } = focused && this.list.contains(focused) ? focused.dataset : {};
    this.list.replaceChildren(...tunes.map((one, place) => this.row(one, place, may)));
    if (tune !== undefined) this.focus(tune, part);
  }

  focus(tune, part) {
    const found = [...this.list.querySelectorAll("button")].find(
      (button) => button.dataset.tune === String(tune) && button.dataset.part === part,
    );
    const stands = found && found.disabled ? found.parentElement.querySelector("button:enabled") : found;
    stands?.focus();
    stands?.closest("li").scrollIntoView({ block: "nearest" });
  }

  row(tune, place, may) {
    const count = this.set.tunes.length;
    const row = document.createElement("li");
    if (this.now === tune.tune) row.setAttribute("aria-current", "true");
    const button = (part, text, label, act) => {
      const made = document.createElement("button");
      made.type = "button";
      made.className = part;
      made.dataset.part = part;
      made.dataset.tune = tune.tune;
      made.textContent = text;
      made.setAttribute("aria-label", label);
      made.disabled = !may;
      if (act) made.addEventListener("click", act);
      return made;
    };
    const { title } = tune;
    const grip = button("grip", "≡", `${title}: place ${place + 1} of ${count}. Drag it, or Alt with an arrow key.`);
    const up = button("up", "↑", `${title}: earlier`, () => this.move(tune.tune, -1));
    const down = button("down", "↓", `${title}: later`, () => this.move(tune.tune, 1));
    up.disabled ||= place === 0;
    down.disabled ||= place === count - 1;
    const change = button("change", "Change", `Change ${title}`, () => this.open(tune.tune));
    const facts = [prettyKey(tune.key), `at ${Math.round(tune.tempo * 10) / 10}`, this.now === tune.tune ? "now" : ""];
    row.append(
      grip,
      cell("place", String(place + 1)),
      cell("name", title),
      cell("facts", facts.filter((fact) => fact).join(" · ")),
      up,
      down,
      change,
    );
    row.addEventListener("keydown", (event) => {
      if (!event.altKey || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
      event.preventDefault();
      if (may) this.move(tune.tune, event.key === "ArrowUp" ? -1 : 1);
    });
    let seen = "";
    draggable(grip, row, {
      begun: () => {
        if (this.changing.pending) return false;
        this.held = true;
        seen = this.changing.revision;
        return true;
      },
      left: () => this.let(),
      dropped: (to) => this.send(() => ({ move: tune.tune, to }), seen),
    });
    return row;
  }

  // By so many places from where it is when its turn comes.
  move(number, by) {
    this.send(() => {
      const tunes = this.set.tunes;
      const place = tunes.findIndex((tune) => tune.tune === number);
      const to = place + by;
      return place < 0 || to < 0 || to >= tunes.length ? null : { move: number, to };
    });
  }

  async send(edit, seen = null) {
    this.say("");
    await this.changing.change(edit, seen);
    this.let();
  }

  // A tune's form, once what was asked for before is done.
  async open(number) {
    await this.changing.queue;
    const tune = this.set.tunes.find((one) => one.tune === number);
    if (!tune || !this.set.choices) return;
    this.say("");
    this.form.show(tune, this.set.choices);
  }

  // What was dragged is let go: the rows as the set has them.
  let() {
    this.held = false;
    this.drawn = "";
    this.draw();
  }

  // What is wrong is said in the form; what has changed meanwhile beside the list as it is now.
  refused(sentence, stale) {
    if (this.form.open && !stale) {
      this.form.say(sentence);
      return;
    }
    if (this.form.open) this.form.close();
    this.say(sentence);
  }

  say(sentence) {
    byId("edit-word").textContent = sentence;
  }
}

function cell(name, text) {
  const made = document.createElement("span");
  made.className = name;
  made.textContent = text;
  return made;
}
