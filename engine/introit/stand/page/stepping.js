// Whether the foot steps through the lesson: while this page is looked at, unless somebody has given it back to the music.

const AGAIN = 2000; // ms after which it is asked for once more, where a new player knows nothing of it

export class Stepping {
  // button: gives the foot back, and takes it. ask(what): tells the daemon.
  constructor(button, ask) {
    this.button = button;
    this.ask = ask;
    this.wanted = true;
    this.may = false;
    this.up = false;
    this.asked = -Infinity;
    button.addEventListener("click", () => {
      this.wanted = button.getAttribute("aria-pressed") !== "true";
      this.show();
      this.send(this.wanted ? "open" : "close");
    });
    document.addEventListener("visibilitychange", () => {
      if (this.wanted) this.send(document.hidden ? "away" : "open");
    });
  }

  // may: whether this device may do more than watch.
  hello(may) {
    this.may = may;
    this.up = true;
    if (this.wanted && !document.hidden) this.send("open");
    this.show();
  }

  linked(up) {
    this.up = up;
  }

  told({ state, step }) {
    if (state === "ready" && step < 0 && performance.now() - this.asked > AGAIN) {
      if (this.wanted && this.steps) this.wanted = false; // another page has given it back
      else if (this.wanted && !document.hidden) this.send("open");
    }
    if (state === "ready") this.steps = step >= 0;
    if (this.steps && state === "ready") this.wanted = true;
    this.show();
  }

  send(what) {
    if (!this.may || !this.up) return;
    this.asked = performance.now();
    this.ask(what);
  }

  show() {
    this.button.setAttribute("aria-pressed", String(this.wanted && this.may));
  }
}
