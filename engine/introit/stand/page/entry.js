// A tune's own form: key, tempo, intro and landing, each of which may be left to the tune.

import { prettyKey } from "./chord.js";

const UNSAID = { tune: "as the tune has it", call: "as it was called" }; // what holds where an entry says nothing itself
const byId = (id) => document.getElementById(id);

export class EntryForm {
  // changing: sends the change. closed(tune): the form is gone.
  constructor(changing, closed) {
    this.changing = changing;
    this.closed = closed;
    this.dialog = byId("entry");
    this.error = byId("entry-error");
    this.tune = null;
    byId("entry-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.save();
    });
    byId("entry-cancel").addEventListener("click", () => this.dialog.close());
    this.dialog.addEventListener("close", () => this.closed(this.tune));
    for (const [id, by] of [["entry-slower", -1], ["entry-faster", 1]]) {
      byId(id).addEventListener("click", () => this.step(by));
    }
  }

  get open() {
    return this.dialog.open;
  }

  // tune: as the set tells it. choices: keys, landings, the limits of the tempo.
  async show(tune, choices) {
    this.tune = tune;
    this.seen = this.changing.revision;
    const own = tune.says ?? {};
    byId("entry-head").textContent = tune.title;
    this.error.textContent = "";
    const left = UNSAID[tune.sort] ?? "left open";
    const key = tune.sort === "title" ? null : beside(left, own.key ? "" : prettyKey(tune.key));
    fill(byId("entry-key"), choices.keys.map((key) => [key, prettyKey(key)]), own.key, key);
    fill(byId("entry-landing"), choices.landings.map((one) => [one, landing(one)]), own.landing, beside(left, own.landing ? "" : landing(tune.landing)));
    const tempo = byId("entry-tempo");
    [tempo.min, tempo.max] = choices.tempo;
    tempo.value = own.tempo ?? "";
    tempo.placeholder = own.tempo ? "" : String(Math.round(tune.tempo * 10) / 10);
    byId("entry-tempo-more").textContent = `${choices.tempo[0]} to ${choices.tempo[1]} a minute; empty: ${left}`;
    const intros = byId("entry-intro");
    fill(intros, [], own.intro, left);
    this.before = this.values();
    this.dialog.showModal();
    const offer = await this.changing.offer(tune.tune);
    if (this.tune !== tune || !offer) return;
    const chosen = intros.value;
    const named = (id) => offer.intros.find((intro) => intro.id === id)?.name ?? id;
    fill(intros, offer.intros.map(({ id, name }) => [id, name]), own.intro, beside(left, own.intro ? "" : named(tune.intro)));
    intros.value = chosen;
  }

  values() {
    const values = {};
    for (const name of ["key", "tempo", "intro", "landing"]) values[name] = byId(`entry-${name}`).value.trim() || null;
    return values;
  }

  step(by) {
    const tempo = byId("entry-tempo");
    const now = Number(tempo.value || tempo.placeholder) + by;
    tempo.value = Math.min(Number(tempo.max), Math.max(Number(tempo.min), now));
  }

  async save() {
    const { before, tune } = this;
    const tempo = byId("entry-tempo");
    const values = this.values();
    const changed = Object.fromEntries(Object.entries(values).filter(([name, value]) => value !== before[name]));
    if (tempo.validity.badInput) {
      this.error.textContent = "The tempo is a number of beats a minute.";
      return;
    }
    if (changed.tempo) changed.tempo = Number(changed.tempo);
    if (Object.keys(changed).length === 0) {
      this.dialog.close();
      return;
    }
    this.error.textContent = "";
    const save = byId("entry-save");
    save.disabled = true;
    const made = await this.changing.change(() => ({ change: tune.tune, ...changed }), this.seen);
    save.disabled = false;
    if (made) this.dialog.close();
  }

  close() {
    this.dialog.close();
  }

  // Why it was not saved.
  say(sentence) {
    this.error.textContent = sentence;
    this.error.scrollIntoView({ block: "nearest" });
  }
}

function fill(select, choices, own, left) {
  const options = left === null ? [] : [["", left]];
  if (own && !choices.some(([value]) => value === own)) options.push([own, own]);
  select.replaceChildren(...[...options, ...choices].map(([value, text]) => new Option(text, value)));
  select.value = own ?? "";
}

const beside = (words, more) => (more ? `${words} (${more})` : words);

function landing(word) {
  const [how, beats] = word.split(" ");
  if (how === "ring") return `rings for ${beats} ${beats === "1" ? "beat" : "beats"}`;
  return { cut: "cut", chord: "a short chord on the downbeat" }[word] ?? word;
}
