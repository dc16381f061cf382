// The page: puts its parts together, and changes between the views.

import { aloudKey } from "./chord.js";
import { calls } from "./call.js";
import { Foot } from "./foot.js";
import { Keeping } from "./keeping.js";
import { Orders } from "./orders.js";
import { pairing } from "./pairing.js";
import { Playing } from "./playing.js";
import { Practise } from "./practise.js";
import { Pulse } from "./pulse.js";
import { Stream } from "./stream.js";
import { themeSwitch } from "./theme.js";
import { Tunes } from "./tunes.js";
import { keepAwake } from "./wake.js";

const byId = (id) => document.getElementById(id);
const VIEWS = new Set(["play", "set"]);
const SAID = 6000; // ms that a sentence about what did not arrive stands

themeSwitch(byId("theme"));
// A name for this page, as long as it is open.
const PAGE = Array.from(crypto.getRandomValues(new Uint32Array(4)), (part) => part.toString(36)).join("");

const pulse = new Pulse();
const keeping = new Keeping();
const playing = new Playing({
  title: byId("title"), key: byId("key"), tempo: byId("tempo"), intro: byId("intro"), state: byId("state"), text: byId("text"),
  nowLabel: byId("now-label"), nowHuge: byId("now-huge"), nowUnder: byId("now-under"),
  thenLabel: byId("then-label"), thenHuge: byId("then-huge"), thenUnder: byId("then-under"),
  beats: byId("beats"), wayShape: byId("way-shape"), wayLeft: byId("way-left"), wayFilled: byId("way-filled"), wayHere: byId("way-here"),
  wayCount: byId("way-count"), wayUnit: byId("way-unit"),
  footPress: byId("foot-press"), foot: byId("foot"), footDouble: byId("foot-double"), footHold: byId("foot-hold"), callTempo: byId("call-tempo"),
});
const tunes = new Tunes(
  { list: byId("tunes"), word: byId("set-word"), next: byId("set-next"), back: byId("set-back") },
  {
    choose: async (value) => {
      if (await orders.order("tune", { value })) location.hash = "#play";
    },
  },
);

const practise = new Practise({
  begun: () => { location.hash = "#play"; },
  say: (words) => say(words),
});

keepAwake((sentence) => {
  byId("awake").textContent = sentence;
  playing.sleepy = sentence !== "";
});

const where = () => pulse.at(stream.clock.machine(performance.now()));

// --- the line ---

const LINK = {
  joining: "Connecting …",
  lost: "No connection – trying again. What you see is old.",
};
let link = "";
let sentence = "";
let timer = 0;
let remark = 0;

function notices() {
  const told = LINK[link] ?? sentence;
  if (byId("lost").textContent !== told) byId("lost").textContent = told;
  document.body.toggleAttribute("data-notice", told !== "");
}

function say(words) {
  sentence = words;
  clearTimeout(timer);
  timer = setTimeout(() => say(""), SAID);
  notices();
}

function linked(state) {
  link = state;
  document.body.dataset.link = state;
  notices();
  show();
  if (state === "up") run();
}

function told(kind, given) {
  if (kind === "set") {
    tunes.hear(given);
    practise.hear(given);
    return;
  }
  if (kind === "hello") {
    watches(given.view === true);
    return;
  }
  const value = keeping.whole(given, performance.now());
  pulse.hear(value);
  document.body.dataset.state = value.state.replaceAll(" ", "-");
  playing.show(value, where());
  tunes.show(value);
  practise.show(value, tunes.watches);
  announce(value);
  run();
  clearTimeout(remark);
  if (value.text) remark = setTimeout(() => playing.show({ ...playing.now, text: "" }, where()), SAID);
}

// A device that was paired for looking: nothing on it can be pressed.
function watches(only) {
  document.body.toggleAttribute("data-watches", only);
  playing.watches = only;
  tunes.watches = only;
  for (const id of ["open-call", "silence", "foot"]) byId(id).disabled = only;
  if (!playing.now) return;
  playing.show(playing.now, where());
  tunes.show(playing.now);
  practise.show(playing.now, only);
}

let announced = "";
function announce({ state, title, key, tempo, text }) {
  const words = [state, title, key && `in ${aloudKey(key)}`, tempo && `${tempo} a minute`, text];
  const line = words.filter((word) => word).join(", ");
  if (line === announced) return;
  announced = line;
  byId("told").textContent = line;
}

// --- each frame, while something moves ---

let running = false;
function run() {
  if (running) return;
  running = true;
  requestAnimationFrame(frame);
}

function frame() {
  const at = link === "up" ? where() : null;
  playing.frame(at);
  running = pulse.moves && link === "up";
  if (running) requestAnimationFrame(frame);
}

// --- what is asked for ---

const orders = new Orders({ page: PAGE, isUp: () => link === "up", say, unpaired: () => linked("unpaired") });
new Foot(byId("foot"), {
  down: () => orders.send({ do: "down" }),
  up: () => orders.send({ do: "up" }),
  back: () => orders.order("back"),
  active: () => document.body.dataset.view === "play" && !playing.watches && !document.querySelector("dialog[open]"),
});
byId("silence").addEventListener("click", () => orders.order("silence"));
byId("set-next").addEventListener("click", () => orders.order("next"));
byId("set-back").addEventListener("click", () => orders.order("back"));
calls(
  byId("call"),
  {
    open: byId("open-call"), close: byId("call-close"), keys: byId("keys"), slower: byId("slower"),
    faster: byId("faster"), another: byId("another"), firstNote: byId("first-note"), soundCheck: byId("sound-check"),
  },
  orders,
);

// --- views ---

const pair = pairing(
  { form: byId("pair-form"), code: byId("code"), device: byId("device"), error: byId("pair-error") },
  { paired: () => { linked("joining"); stream.join(); } },
);

function show() {
  const asked = location.hash.slice(1);
  const view = link === "unpaired" ? "pair" : VIEWS.has(asked) ? asked : "play";
  if (document.body.dataset.view === view && !byId(view).hidden) return;
  document.body.dataset.view = view;
  for (const name of ["play", "set", "pair"]) byId(name).hidden = name !== view;
  for (const name of VIEWS) {
    if (name === view) byId(`go-${name}`).setAttribute("aria-current", "page");
    else byId(`go-${name}`).removeAttribute("aria-current");
  }
  if (view === "pair") byId("title").textContent = "Pair this device";
  if (view === "play") playing.resized(link === "up" ? where() : null);
  if (view === "set") byId("tunes").querySelector("[aria-current]")?.scrollIntoView({ block: "nearest" });
}
addEventListener("hashchange", show);
new ResizeObserver(() => playing.resized(link === "up" ? where() : null)).observe(byId("play"));

const stream = new Stream(PAGE, told, linked);
pair.fromAddress();
