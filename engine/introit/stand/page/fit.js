// Text as large as its room allows. Sizes that were found are kept; they are asked for again at each round.

const SMALLEST = 14;
const found = new Map();

// Gives `element`, the only child of its room, the largest type that fits, at most so much of the room's height.
export function fit(element, cap = 1) {
  const room = element.parentElement;
  const width = room.clientWidth;
  const height = room.clientHeight;
  const text = element.textContent;
  if (!text || !width || !height) return;
  const line = element.hasAttribute("data-line");
  const name = `${element.id} ${line} ${width} ${height} ${text}`;
  if (!found.has(name)) {
    if (found.size > 400) found.clear();
    found.set(name, largest(element, width, height, cap));
  }
  element.style.fontSize = `${found.get(name)}px`;
}

// The same for words that stand on one line, unless several would be much larger.
export function fitLine(element, cap) {
  element.removeAttribute("data-line");
  fit(element, cap);
  const several = parseFloat(element.style.fontSize);
  element.setAttribute("data-line", "");
  fit(element, cap);
  if (parseFloat(element.style.fontSize) > several / 1.5) return;
  element.removeAttribute("data-line");
  fit(element, cap);
}

function largest(element, width, height, cap) {
  const chord = element.querySelector(".chord");
  if (chord) {
    // It never wraps, so it grows as its type does: one look is enough, and no beat waits for more.
    element.style.fontSize = "100px";
    const by = Math.min(width / chord.offsetWidth, height / Math.max(element.offsetHeight, chord.offsetHeight));
    return Math.max(SMALLEST, Math.floor(Math.min(100 * by, height * cap)));
  }
  let low = SMALLEST;
  let high = Math.max(SMALLEST, height * cap);
  while (high - low > 1) {
    const middle = (low + high) / 2;
    element.style.fontSize = `${middle}px`;
    const fits = element.scrollWidth <= width + 0.5 && element.offsetHeight <= height + 0.5;
    if (fits) low = middle;
    else high = middle;
  }
  return Math.floor(low);
}
