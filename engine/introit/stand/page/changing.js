// Sends changes of the set, one after the other, each with the revision that was seen.

const ANSWER = 6000; // ms: the stand itself waits five seconds for the daemon
const TOLD = 3000; // ms until the new list must have come after an edit

export class Changing {
  // refused(sentence, stale): an edit was not made; stale: somebody else has changed the set meanwhile.
  constructor(refused) {
    this.refused = refused;
    this.revision = "";
    this.waiting = [];
    this.pending = 0;
    this.queue = Promise.resolve();
  }

  // The newest set has come.
  hear(revision) {
    this.revision = revision;
    for (const look of this.waiting.splice(0)) look();
  }

  // edit(): what to change as the set is by then, or null for nothing any more. seen: the revision that was looked at
  // to decide it, where that may not be the newest. Gives whether it was made.
  change(edit, seen = null) {
    this.pending += 1;
    const done = this.queue.then(async () => {
      const asked = edit();
      if (asked === null) return true;
      const { answer, error, stale } = await this.post(asked, seen ?? this.revision);
      if (error) {
        this.refused(error, stale);
        return false;
      }
      await this.told(answer.revision);
      return true;
    });
    this.queue = done.catch(() => false).finally(() => { this.pending -= 1; });
    return this.queue;
  }

  // What a tune may be given; null where that is not known.
  async offer(tune) {
    const { answer } = await this.post({ offer: tune }, this.revision);
    return answer ? answer.offer : null;
  }

  async told(revision) {
    const end = performance.now() + TOLD;
    while (this.revision !== revision && performance.now() < end) {
      await new Promise((look) => {
        this.waiting.push(look);
        setTimeout(look, 200);
      });
    }
  }

  async post(edit, revision) {
    const gone = new AbortController();
    const timer = setTimeout(() => gone.abort(), ANSWER);
    try {
      const response = await fetch("/set", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ revision, edit }),
        signal: gone.signal,
      });
      const answer = await response.json();
      if (response.ok) return { answer };
      const error = typeof answer.error === "string" && answer.error ? answer.error : `Refused (${response.status}).`;
      return { error, stale: response.status === 409 };
    } catch {
      return { error: "No answer: look whether that was done." };
    } finally {
      clearTimeout(timer);
    }
  }
}
