// What a snapshot does not say holds on: where an intro was when it waited, and a remark for as long as it is read.

const GOES = new Set(["counting off", "playing", "vamping", "out of time", "waiting"]);
const READ = 4000; // ms that a remark stands, however soon the next beat comes

// The snapshot with its place. Only beats tell one; what comes between them, or when time stops, is where the last was.
export class Keeping {
  constructor() {
    this.beat = null;
    this.remark = "";
    this.until = 0;
  }

  // Pure: `now` in ms.
  whole(snapshot, now) {
    const goes = GOES.has(snapshot.state);
    if (!goes || (this.beat && this.beat.tune !== snapshot.tune)) this.beat = null;
    if (goes && snapshot.beat > 0) this.beat = snapshot;
    return { ...snapshot, ...this.place(snapshot, goes), text: this.text(snapshot, now) };
  }

  place(snapshot, goes) {
    if (!goes || snapshot.beat > 0) return {};
    if (!this.beat) return { beats_to_head: snapshot.beats_in_all };
    const { bar, beats_to_head, chord, next } = this.beat;
    return { bar, beats_to_head, chord, next };
  }

  // A cycle that the MIDI system skipped is nothing that a player can mend in mid-tune: the terminal counts them.
  text({ what, text }, now) {
    if (text && what !== "lost") {
      this.remark = text;
      this.until = now + READ;
    }
    return now < this.until ? this.remark : "";
  }
}
