// Which beat sounds now, from the last one that was told. Pure: time is passed in, in ms of the machine.

const MOVES = new Set(["counting off", "playing", "vamping", "sound check"]);
const PATIENCE = 1200; // ms that a beat may be overdue before nothing is claimed any more
const FRAME = 8; // ms: what is drawn now is seen half a frame later

export class Pulse {
  constructor() {
    this.told = null;
    this.anchor = null;
    this.before = null;
  }

  hear(snapshot) {
    const moves = MOVES.has(snapshot.state);
    if (!moves || (this.told && this.told.tune !== snapshot.tune)) {
      this.anchor = this.before = null;
    }
    if (moves && snapshot.what === "beat" && snapshot.beat > 0) {
      this.before = this.anchor;
      this.anchor = snapshot;
    }
    this.told = snapshot;
  }

  get moves() {
    return this.anchor !== null;
  }

  // {beat, bar, toHead, chord, next, nextIn} now; null where nothing moves or a beat is long overdue.
  at(now) {
    let from = this.anchor;
    if (!from || !Number.isFinite(now)) return null; // the clock may not be known yet
    if (now + FRAME < from.at / 1e6) {
      if (!this.before) return null; // told before it sounds
      from = this.before;
    }
    const period = 60000 / from.tempo;
    const since = now + FRAME - from.at / 1e6;
    if (!(from.tempo > 0) || since > period + PATIENCE) return null;
    const ahead = Math.max(0, since / period);
    const steps = Math.floor(ahead);
    const beats = from.beat - 1 + steps;
    const meter = Math.max(1, Math.round(from.meter));
    const turned = from.next !== null && ahead >= from.next.in_beats;
    return {
      beat: (beats % meter) + 1,
      bar: from.bar + Math.floor(beats / meter),
      toHead: Math.max(0, from.beats_to_head - ahead),
      left: Math.max(0, from.beats_to_head - steps),
      chord: turned ? from.next : from.chord,
      next: turned ? null : from.next,
      turned,
      toldToHead: from.beats_to_head,
      nextIn: turned || !from.next ? null : from.next.in_beats - steps,
    };
  }
}
