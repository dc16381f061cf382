// What the machine's clock says now, seen from this page. Pure: time and answers are passed in.

const DRIFT = 1e-4; // two quartz clocks part by less than this (no source; 20 to 50 ppm each is common)

export class Clock {
  constructor() {
    this.best = null;
  }

  // One question and answer: asked and heard in ms of this page, ns of the machine in between.
  add(asked, heard, ns) {
    const sample = { offset: ns / 1e6 - (asked + heard) / 2, doubt: (heard - asked) / 2, heard };
    if (!this.best) {
      this.best = sample;
      return;
    }
    const doubt = this.doubt(heard);
    const apart = Math.abs(sample.offset - this.best.offset);
    // Further apart than both can be wrong: one clock has jumped (a tablet that slept), so the past is void.
    if (sample.doubt <= doubt || apart > sample.doubt + doubt) this.best = sample;
  }

  // By how many ms it may be wrong: half the way of the quickest answer, and what has drifted since.
  doubt(page) {
    return this.best ? this.best.doubt + Math.max(0, page - this.best.heard) * DRIFT : Infinity;
  }

  get known() {
    return this.best !== null;
  }

  // The machine's ms at this page's ms.
  machine(page) {
    return this.best ? page + this.best.offset : NaN;
  }
}
