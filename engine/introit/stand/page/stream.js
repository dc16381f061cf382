// The page's end of the line: snapshots as they come, the machine's clock, and whether there is a connection at all.

import { Clock } from "./clock.js";

const QUIET = 1050; // ms without a word before we ask: the stand says something at least each second
const DOUBT = 200; // ms without an answer to that before it is told
const ANSWER = 1000; // ms that an answer may take
const AT_START = 8; // questions for the time, then one each SETTLE
const SETTLE = 10000;
const DEAF = 3500; // ms without a word on the stream, while the stand answers: the stream is dead

export class Stream {
  // page: what this page calls itself. told(kind, value): a snapshot, a set, or hello: who we are to the stand.
  // linked(state): joining, up, lost or unpaired.
  // teach: whether lessons are wanted, too.
  constructor(page, told, linked, { teach = false } = {}) {
    this.kinds = teach ? ["hello", "snapshot", "lesson"] : ["hello", "snapshot", "set"];
    this.query = teach ? "&teach=1" : "";
    this.page = page;
    this.told = told;
    this.linked = linked;
    this.clock = new Clock();
    this.state = "";
    this.source = null;
    this.heard = performance.now();
    this.lastWord = this.heard;
    this.asking = false;
    this.wanted = false; // whether to join once what is asked has been answered
    this.number = -1;
    this.tries = 0;
    this.set("joining");
    setInterval(() => this.watch(), 50);
    setInterval(() => this.state === "up" && this.ask(), SETTLE);
    document.addEventListener("visibilitychange", () => !document.hidden && this.wake());
    addEventListener("pageshow", (event) => event.persisted && this.wake());
    addEventListener("online", () => this.wake());
    this.join();
  }

  set(state) {
    if (state === this.state) return;
    this.state = state;
    this.linked(state);
  }

  // Asks for the time; an answer is a sign of life. Gives the status, 0 without one.
  async ask() {
    const gone = new AbortController();
    const timer = setTimeout(() => gone.abort(), ANSWER);
    try {
      const asked = performance.now();
      const response = await fetch("/time", { cache: "no-store", signal: gone.signal });
      const heard = performance.now();
      if (response.ok) this.clock.add(asked, heard, (await response.json()).ns);
      return response.status;
    } catch {
      return 0;
    } finally {
      clearTimeout(timer);
    }
  }

  // One question at a time; null where somebody wants to join, who asks anew.
  async askAlone() {
    this.asking = true;
    const status = await this.ask();
    this.asking = false;
    if (!this.wanted) return status;
    this.wanted = false;
    this.join();
    return null;
  }

  async join() {
    if (this.asking) {
      this.wanted = true; // what comes now may be an answer from before
      return;
    }
    const status = await this.askAlone();
    if (status === null) return;
    if (status === 401) {
      this.leave();
      this.set("unpaired");
    } else if (status !== 200) {
      this.lose();
    } else {
      this.open();
      for (let more = 1; more < AT_START; more += 1) await this.ask();
    }
  }

  open() {
    this.leave();
    this.number = -1;
    const source = new EventSource(`/events?page=${this.page}${this.query}`);
    this.source = source;
    this.speaks = false; // whether this stream has begun
    const word = () => {
      if (source !== this.source) return false;
      this.heard = this.lastWord = performance.now();
      this.tries = 0;
      this.speaks = true;
      this.set("up");
      return true;
    };
    source.addEventListener("open", word);
    source.addEventListener("alive", word);
    for (const kind of this.kinds) {
      source.addEventListener(kind, (event) => word() && this.take(kind, JSON.parse(event.data)));
    }
    source.addEventListener("error", () => {
      if (source !== this.source) return;
      this.leave();
      this.later();
    });
    this.heard = this.lastWord = performance.now();
  }

  take(kind, value) {
    if (kind === "snapshot") {
      if (value.number <= this.number) return;
      this.number = value.number;
    }
    this.told(kind, value);
  }

  leave() {
    if (this.source) this.source.close();
    this.source = null;
  }

  lose() {
    this.leave();
    this.set("lost");
    this.later();
  }

  // Tries again: soon, then each second.
  later() {
    clearTimeout(this.again);
    this.again = setTimeout(() => this.join(), Math.min(1000, 50 + 150 * this.tries));
    this.tries += 1;
  }

  // Is there still somebody? Silence is told well within two seconds, and a stream that is dead opened anew.
  async watch() {
    if (!this.source || this.asking || document.hidden) return;
    const now = performance.now();
    if (now - this.lastWord > DEAF) {
      this.join();
      return;
    }
    if (now - this.heard < QUIET) return;
    const lost = setTimeout(() => this.set("lost"), DOUBT);
    const status = await this.askAlone();
    clearTimeout(lost);
    if (status === null) return;
    if (status === 200) {
      this.heard = performance.now();
      if (this.source && this.speaks) this.set("up");
    } else if (status === 401) {
      this.leave();
      this.set("unpaired");
    } else {
      this.lose();
    }
  }

  // A tablet that slept, a page that was hidden: nothing that was known of the time holds.
  wake() {
    if (this.state === "unpaired") return;
    this.clock = new Clock();
    this.tries = 0;
    clearTimeout(this.again);
    this.join();
  }
}
