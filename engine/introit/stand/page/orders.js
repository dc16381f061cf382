// Sends what is asked for, one after the other: an `up` must never overtake its `down`.

const STALE = 500; // ms: a press that waited longer would start something that nobody wants any more
const ANSWER = 1500;

export class Orders {
  // page: what this page calls itself, so that the stand can let go for it. isUp(): whether there is a connection. say(sentence): tells what did not arrive. unpaired(): a token is no more.
  constructor({ page, isUp, say, unpaired }) {
    this.page = page;
    this.isUp = isUp;
    this.say = say;
    this.unpaired = unpaired;
    this.queue = Promise.resolve();
    this.isDown = false; // whether a `down` went out that wants its `up`
  }

  send(command) {
    const born = performance.now();
    const sent = this.queue.then(() => this.post(command, born));
    this.queue = sent.catch(() => false);
    return this.queue;
  }

  order(order, more = {}) {
    return this.send({ do: "order", order, ...more });
  }

  async post(command, born) {
    const up = command.do === "up";
    if (up && !this.isDown) return false;
    this.isDown = up ? false : this.isDown;
    if (!up && (!this.isUp() || performance.now() - born > STALE)) {
      this.say("No connection: that was not sent.");
      return false;
    }
    if (command.do === "down") this.isDown = true;
    const gone = new AbortController();
    const timer = setTimeout(() => gone.abort(), ANSWER);
    try {
      const response = await fetch("/do", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ ...command, page: this.page }),
        keepalive: true,
        signal: gone.signal,
      });
      if (response.ok) return true;
      if (response.status === 401) this.unpaired();
      this.say(await reason(response));
    } catch {
      if (!up) this.say("No answer: nobody knows whether that arrived.");
    } finally {
      clearTimeout(timer);
    }
    return false;
  }
}

async function reason(response) {
  try {
    const { error } = await response.json();
    if (typeof error === "string" && error) return error;
  } catch {
    // no sentence in it: the status has to do
  }
  return response.status === 403 ? "This device may only watch." : `Refused (${response.status}).`;
}
