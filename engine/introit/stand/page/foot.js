// The page as the foot-switch: a broad area, the space bar, and a page-turner that sends computer keys.

// What a page-turner for "on" sends, by its mode (common practice, no source), beside the space bar.
const KEYS = new Set([" ", "PageDown", "ArrowRight"]);
const BACK = new Set(["PageUp", "ArrowLeft"]);

export class Foot {
  // down() and up(): at the first thing pressed and the last let go. back(): a page-turner's other pedal.
  // active(): whether keys are the foot's now.
  constructor(area, { down, up, back, active }) {
    this.area = area;
    this.down = down;
    this.up = up;
    this.held = new Set();
    this.touched = -Infinity;
    this.byKey = false; // whether the focus was moved by the keyboard, and not by a touch
    let last = "";
    addEventListener("pointerdown", () => { last = "pointer"; this.byKey = false; }, true);
    addEventListener("keydown", () => { last = "key"; }, true);
    addEventListener("focusin", () => { this.byKey = last === "key"; });
    area.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      area.setPointerCapture(event.pointerId);
      this.press(`pointer ${event.pointerId}`);
    });
    for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) {
      area.addEventListener(kind, (event) => this.release(`pointer ${event.pointerId}`));
    }
    area.addEventListener("contextmenu", (event) => event.preventDefault());
    // A click that no pointer and no key began is a screen reader's, or the enter key's.
    area.addEventListener("click", () => {
      if (performance.now() - this.touched < 700) return;
      this.press("click");
      this.release("click");
    });
    addEventListener("keydown", (event) => {
      if (!this.isMine(event) || !active()) return;
      if (BACK.has(event.key)) {
        event.preventDefault();
        if (!event.repeat) back();
      } else if (KEYS.has(event.key)) {
        event.preventDefault();
        if (!event.repeat) this.press(event.key);
      }
    });
    addEventListener("keyup", (event) => {
      if (this.held.has(event.key)) {
        event.preventDefault();
        this.release(event.key);
      }
    });
    // Whoever looks away has let go.
    addEventListener("blur", () => this.releaseAll());
    addEventListener("pagehide", () => this.releaseAll());
    document.addEventListener("visibilitychange", () => document.hidden && this.releaseAll());
  }

  press(by) {
    this.touched = performance.now();
    if (this.held.has(by)) return;
    this.held.add(by);
    if (this.held.size > 1) return;
    this.area.dataset.down = "";
    this.down();
  }

  release(by) {
    if (!this.held.delete(by)) return;
    this.touched = performance.now();
    if (this.held.size) return;
    delete this.area.dataset.down;
    this.up();
  }

  releaseAll() {
    for (const by of [...this.held]) this.release(by);
  }

  // Not with a modifier, not while something is written, and not the space bar on another control that the keyboard
  // has gone to: there it does what a person expects. After a touch on a control it is the foot again.
  isMine(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return false;
    const target = event.target;
    if (!(target instanceof Element) || target === this.area) return true;
    if (target.closest("input, textarea, select, dialog")) return false;
    return !(event.key === " " && this.byKey && target.closest("button, a"));
  }
}
