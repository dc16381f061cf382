// Text as large as its room allows. Sizes that were found are kept; they are asked for again at each round.

const SMALLEST = 14;
const found = new Map();

// Gives `element`, the only child of its room, the largest type that fits.
export function fit(element, cap = 1) {
  const room = element.parentElement;
  const width = room.clientWidth;
  const height = room.clientHeight;
  const text = element.textContent;
  if (!text || !width || !height) return;
  const name = `${element.id} ${element.className} ${width} ${height} ${text}`;
  if (!found.has(name)) {
    if (found.size > 400) found.clear();
    found.set(name, largest(element, width, height, cap));
  }
  element.style.fontSize = `${found.get(name)}px`;
}

function largest(element, width, height, cap) {
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
