// One voice alone: the others are muted; the same again, and what was heard before is.

const PARTS = ["melody", "comp", "bass", "pedal", "ride", "click", "cue"]; // in the order of the snapshot's bits
const OTHERS = ["melody", "comp", "bass", "pedal", "ride"]; // click and cue are no part of the intro
const WITH = { bass: ["bass", "pedal"] }; // a pedal point is the bass's

export class Alone {
  constructor(buttons, orders) {
    this.buttons = buttons;
    this.orders = orders;
    this.muted = 0;
    this.before = null; // bits of what was muted before
    for (const button of buttons) button.addEventListener("click", () => this.toggle(button.value));
  }

  isMuted(part, bits = this.muted) {
    return ((bits >> PARTS.indexOf(part)) & 1) === 1;
  }

  // Which voice is alone, as things stand; empty for none.
  get alone() {
    const heard = OTHERS.filter((part) => !this.isMuted(part));
    const voice = this.buttons.find(({ value }) => {
      const own = WITH[value] ?? [value];
      return heard.length > 0 && heard.every((part) => own.includes(part)) && !this.isMuted(value);
    });
    return voice ? voice.value : "";
  }

  told(muted) {
    this.muted = muted;
    const alone = this.alone;
    for (const button of this.buttons) button.setAttribute("aria-pressed", String(button.value === alone));
  }

  async toggle(voice) {
    const { alone } = this;
    if (!alone) this.before = this.muted;
    const back = alone === voice;
    const own = WITH[voice] ?? [voice];
    for (const part of OTHERS) {
      const mute = back ? this.before !== null && this.isMuted(part, this.before) : !own.includes(part);
      if (mute !== this.isMuted(part)) await this.orders.order("mute", { part, value: mute ? 1 : 0 });
    }
  }
}
