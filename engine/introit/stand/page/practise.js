// A practice, begun and ended from here: how it goes is said in words, as in the terminal.

import { Changing } from "./changing.js";

// What a way says; touched again it is taken out.
const WAYS = [
  "keys in fourths", "keys by half steps", "cue", "count 1", "climb 96 to 160 by 4, two clean each", "slow fast slow",
  "hide in turn", "fade", "answer", "build", "build strings", "listen",
];
const byId = (id) => document.getElementById(id);

export class Practise {
  // begun(): a practice is on. say(sentence): tells what was refused while the form is not open.
  constructor({ begun, say }) {
    this.begun = begun;
    this.say = say;
    this.asks = new Changing(() => {});
    this.practice = "none"; // that can be begun here: none, off or on
    this.ready = this.watches = false;
    this.title = "";
    this.dialog = byId("practise");
    this.how = byId("how");
    this.error = byId("practise-error");
    byId("ways").append(...WAYS.map((way) => this.way(way)));
    byId("open-practise").addEventListener("click", () => this.open());
    byId("practise-cancel").addEventListener("click", () => this.dialog.close());
    byId("practise-over").addEventListener("click", () => this.over());
    this.how.addEventListener("input", () => this.mark());
    this.dialog.addEventListener("click", (event) => event.target === this.dialog && this.dialog.close()); // beside it
    byId("practise-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.begin();
    });
  }

  hear(set) {
    this.practice = set.practice ?? "none";
    this.draw();
  }

  show({ state, title }, watches) {
    this.ready = state === "ready";
    this.title = title ?? "";
    this.watches = watches;
    this.draw();
  }

  draw() {
    const may = this.practice !== "none" && !this.watches;
    const open = byId("open-practise");
    const over = byId("practise-over");
    const had = document.activeElement === open || document.activeElement === over;
    open.hidden = !may || this.practice === "on";
    open.disabled = !this.ready;
    over.hidden = !may || this.practice !== "on";
    if (had) (open.hidden ? over : open).focus();
  }

  way(way) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = way;
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => {
      const said = this.said();
      const parts = way.split(", ");
      const has = parts.every((part) => said.includes(part));
      const left = said.filter((one) => !parts.includes(one));
      this.how.value = [...left, ...(has ? [] : parts)].join(", ");
      this.mark();
    });
    return button;
  }

  said() {
    return this.how.value.split(",").map((part) => part.trim()).filter((part) => part);
  }

  mark() {
    const said = this.said();
    for (const button of byId("ways").children) {
      button.setAttribute("aria-pressed", String(button.textContent.split(", ").every((part) => said.includes(part))));
    }
    this.error.textContent = "";
  }

  open() {
    byId("practise-head").textContent = this.title ? `Practise ${this.title}` : "Practise";
    this.mark();
    this.dialog.showModal();
  }

  async begin() {
    const whole = this.dialog.querySelector("input[name=what]:checked").value === "set";
    const { error } = await this.asks.post({ practise: { how: this.how.value, set: whole } }, "");
    if (error) {
      this.error.textContent = error;
      this.how.focus();
      return;
    }
    this.dialog.close();
    this.begun();
  }

  async over() {
    const { error } = await this.asks.post({ practise: false }, "");
    if (error) this.say(error);
  }
}
