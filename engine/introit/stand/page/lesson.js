// The lesson's page: puts its parts together.

import { Foot } from "./foot.js";
import { Orders } from "./orders.js";
import { Pulse } from "./pulse.js";
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
const GOES = new Set(["playing", "vamping", "out of time", "waiting"]);

themeSwitch(byId("theme"));
keepAwake(() => {});

const pulse = new Pulse();
let link = "joining";
let sentence = "";
let latest = null;

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
const teach = new Teach(
  {
    music: byId("music"), symbol: byId("symbol"), numeral: byId("numeral"), words: byId("words"), neck: byId("neck"),
    neckWords: byId("neck-words"), back: byId("back"), on: byId("on"), blank: byId("blank"), curtain: byId("curtain"),
    slower: byId("slower"), faster: byId("faster"), voices: [...document.querySelectorAll(".voice")], error: byId("error"),
  },
  orders,
);
new Foot(byId("foot"), {
  down: () => orders.send({ do: "down" }),
  up: () => orders.send({ do: "up" }),
  back: () => teach.go(-1),
  active: () => !byId("foot").disabled && byId("curtain").hidden,
});

function linked(state) {
  link = state;
  notices();
}

// Beats from the intro's first, by what was told last where time stands still.
function beat() {
  if (!latest || !GOES.has(latest.state)) return null;
  const at = pulse.at(stream.clock.machine(performance.now()));
  const left = at ? at.toHead : latest.beats_to_head;
  return Math.max(0, latest.beats_in_all - left);
}

function told(kind, value) {
  if (kind === "lesson") {
    teach.hear(value);
    return;
  }
  if (kind === "hello") {
    for (const button of document.querySelectorAll("footer button")) {
      button.disabled = value.view === true && !["back", "on"].includes(button.id);
    }
    return;
  }
  if (kind !== "snapshot") return;
  latest = value;
  pulse.hear(value);
  document.body.dataset.state = value.state.replaceAll(" ", "-");
  byId("title").textContent = value.title || "Introit";
  byId("facts").textContent = [value.key, value.tempo && `${Math.round(value.tempo)}`, value.intro_name, value.state].filter(Boolean).join(" · ");
  byId("foot-words").textContent = value.press || value.hold && `hold: ${value.hold}` || "–";
  if (!GOES.has(value.state)) teach.rest();
}

function frame() {
  const now = beat();
  if (now !== null) teach.frame(now);
  requestAnimationFrame(frame);
}

const stream = new Stream(PAGE, told, linked, { teach: true });
requestAnimationFrame(frame);
