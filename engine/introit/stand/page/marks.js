// Marks on the engraved passage: the motif above, the bars that go round, or are to, beneath.

import { piece } from "./systems.js";

const HEAD = 0.008; // of a system's width: what a note's head and its accidental take

// Strips above and beneath a drawing, and a tint behind it.
export function strips() {
  const [above, behind, beneath] = ["teach-above", "teach-behind", "teach-beneath"].map((name) => {
    const strip = document.createElement("div");
    strip.className = name;
    return strip;
  });
  return { above, behind, beneath };
}

function mark(kind, [left, right], words = "") {
  const made = document.createElement("div");
  made.className = kind;
  made.style.left = `${100 * left}%`;
  made.style.width = `${100 * (right - left)}%`;
  const said = document.createElement("span");
  said.textContent = words;
  made.append(said);
  return made;
}

// Words that would run out of the picture on the right are moved to the left; measured anew at each size.
export function keepIn(systems) {
  for (const { figure, above, beneath } of systems) {
    const edge = figure.getBoundingClientRect().right;
    for (const said of [...above.querySelectorAll("span"), ...beneath.querySelectorAll("span")]) {
      said.style.transform = "";
      const over = said.getBoundingClientRect().right - edge;
      if (over > 0) said.style.transform = `translateX(${-over}px)`;
    }
  }
}

// Each saying of the motif, with its words where it begins.
export function markMotif(systems, motif) {
  for (const system of systems) {
    const above = [];
    const behind = [];
    for (const { beat, end, how } of motif) {
      const found = piece(system, beat, end);
      if (!found) continue;
      const place = [Math.max(0, found[0] - HEAD), found[1] - HEAD / 2];
      const begins = system.places[0][0] <= beat + 0.001;
      above.push(mark("teach-motif", place, begins ? how : "…"));
      behind.push(mark("teach-tint", place));
    }
    system.above.replaceChildren(...above);
    system.behind.replaceChildren(...behind);
    system.above.toggleAttribute("hidden", motif.length === 0);
  }
}

// The bars of a range: what goes round, or is to.
export function markBars(systems, range, bar, words, goes) {
  for (const system of systems) {
    const found = range && piece(system, (range[0] - 1) * bar, range[1] * bar);
    const begins = found && system.places[0][0] <= (range[0] - 1) * bar + 0.001;
    system.beneath.replaceChildren(...(found ? [mark("teach-bars", [found[0] - HEAD, found[1] - HEAD], begins ? words : "…")] : []));
    system.beneath.toggleAttribute("data-goes", goes);
  }
}
