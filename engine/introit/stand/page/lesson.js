// The lesson's page: puts its parts together.

import { Alone } from "./alone.js";
import { Foot } from "./foot.js";
import { Letters } from "./letters.js";
import { Loops } from "./loops.js";
import { Orders } from "./orders.js";
import { Pulse } from "./pulse.js";
import { Stepping } from "./stepping.js";
import { Stream } from "./stream.js";
import { Teach } from "./teach.js";
import { themeSwitch } from "./theme.js";
import { keepAwake } from "./wake.js";

const byId = (id) => document.getElementById(id);
const PAGE = Array.from(crypto.getRandomValues(new Uint32Array(4)), (part) => part.toString(36)).join("");
const LINK = {
  joining: "Connecting …",
  lost: "No connection – trying again. What you see is old.",
  unpaired: "This device is not paired yet: open the stand on it and pair it there.",
};
const STATES = { vamping: "round and round" };
const GOES = new Set(["playing", "vamping", "out of time", "waiting"]);

themeSwitch(byId("theme"));
keepAwake(() => {});

const pulse = new Pulse();
let link = "joining";
let sentence = "";
let latest = null;
let watches = false; // whether this device may only watch

function notices() {
  byId("lost").textContent = LINK[link] ?? sentence;
}

function say(words) {
  sentence = words;
  setTimeout(() => {
    if (sentence !== words) return;
    sentence = "";
    notices();
  }, 6000);
  notices();
}

const orders = new Orders({ page: PAGE, isUp: () => link === "up", say, unpaired: () => linked("unpaired") });
const lesson = (ask, more = {}) => orders.send({ do: "lesson", ask, ...more });
const loops = new Loops(
  { music: byId("music"), loop: byId("loop"), loopWords: byId("loop-words"), more: byId("more") },
  {
    ask: (first, last) => lesson("loop", { first, last }),
    leave: () => press(), // the nod
    changed: (range, words, goes) => teach.mark(range, words, goes),
  },
);
const teach = new Teach(
  {
    music: byId("music"), symbol: byId("symbol"), numeral: byId("numeral"), motif: byId("motif"), words: byId("words"),
    neck: byId("neck"), neckWords: byId("neck-words"), blank: byId("blank"), curtain: byId("curtain"), error: byId("error"),
  },
  loops,
);
const alone = new Alone([...document.querySelectorAll(".voice")], orders);
const stepping = new Stepping(byId("steps"), lesson);

// One chord on or back: for everybody where the foot steps, else on this page alone.
function step(by) {
  if (latest?.step >= 0 && !watches) lesson(by > 0 ? "on" : "back");
  else teach.go(by);
}

function press() {
  orders.send({ do: "down" });
  orders.send({ do: "up" });
}

byId("on").addEventListener("click", () => step(1));
byId("back").addEventListener("click", () => step(-1));
byId("start").addEventListener("click", () => (plays() ? orders.order("silence") : lesson("start")));
byId("slower").addEventListener("click", () => orders.order("slower"));
byId("faster").addEventListener("click", () => orders.order("faster"));
const isClear = () => byId("curtain").hidden;
new Letters(
  byId("letters"),
  {
    b: byId("blank"), f: byId("steps"), p: byId("start"), l: byId("loop"), m: byId("more"), "-": byId("slower"),
    "+": byId("faster"), "=": byId("faster"), 1: alone.buttons[0], 2: alone.buttons[1], 3: alone.buttons[2],
  },
  isClear,
);
addEventListener("keydown", (event) => {
  if (isClear() || event.defaultPrevented || !["Escape", "b", "B", "PageDown", "PageUp", "ArrowRight", "ArrowLeft"].includes(event.key)) return;
  event.preventDefault();
  teach.blank(false);
});
new Foot(byId("foot"), {
  down: () => orders.send({ do: "down" }),
  up: () => orders.send({ do: "up" }),
  back: () => step(-1),
  active: () => !byId("foot").disabled && isClear(),
});

function linked(state) {
  link = state;
  stepping.linked(state === "up");
  notices();
}

// Beats from the intro's first, by what was told last where time stands still.
function beat() {
  if (!latest || !GOES.has(latest.state)) return null;
  const at = pulse.at(stream.clock.machine(performance.now()));
  if (at) return Math.max(0, latest.beats_in_all - at.toHead);
  if (latest.beat > 0) return Math.max(0, latest.beats_in_all - latest.beats_to_head);
  return Math.max(0, latest.first_bar - 1) * latest.meter; // begun, and no beat told yet
}

function told(kind, value) {
  if (kind === "lesson") {
    teach.hear(value);
    if (latest?.step >= 0) teach.goTo(latest.step); // arranged anew: one stays where one had stepped
    return;
  }
  if (kind === "hello") {
    watches = value.view === true;
    for (const button of document.querySelectorAll("footer button, .voice")) {
      button.disabled = watches && !["back", "on"].includes(button.id);
    }
    stepping.hello(!watches);
    return;
  }
  if (kind !== "snapshot") return;
  latest = value;
  pulse.hear(value);
  document.body.dataset.state = value.state.replaceAll(" ", "-");
  byId("title").textContent = value.title || "Introit";
  byId("facts").textContent = [value.key, STATES[value.state] ?? value.state, value.intro_name].filter(Boolean).join(" · ");
  byId("tempo").textContent = value.tempo ? `${Math.round(value.tempo)}` : "";
  byId("foot-words").textContent = value.press ? `Press: ${value.press}` : "–";
  const more = [value.double && `twice: ${value.double}`, value.hold && `hold: ${value.hold}`];
  byId("foot-more").textContent = more.filter(Boolean).join("; ");
  byId("start-words").textContent = plays() ? "Stop" : "Play";
  byId("start").disabled = watches || value.state === "in the tune";
  loops.told(value.first_bar, value.last_bar);
  alone.told(value.muted);
  stepping.told(value);
  if (GOES.has(value.state)) return;
  teach.rest();
  if (value.step >= 0) teach.goTo(value.step);
}

// Whether there is something to stop.
function plays() {
  return latest !== null && !["ready", "in the tune"].includes(latest.state);
}

function frame() {
  const now = beat();
  if (now !== null) teach.frame(now);
  requestAnimationFrame(frame);
}

const stream = new Stream(PAGE, told, linked, { teach: true });
requestAnimationFrame(frame);
