// A chord symbol or a key as it is drawn and as it is read aloud. Pure text, but for `draw`.

const NOTE = "[A-G](?:##|bb|#|b)?";
const SYMBOL = new RegExp(`^(${NOTE})(.*?)(?:/(${NOTE}))?$`);

const signs = (text) => text.replaceAll("b", "♭").replaceAll("#", "♯");

// Accidentals before figures and numerals, as in b9, (#11), bII, #ivø7.
export function pretty(text) {
  return text.replace(/[b#]+(?=[\dIViv])/g, signs);
}

const inSigns = (key) => key.replace(/^([A-G]) flat/, "$1b").replace(/^([A-G]) sharp/, "$1#");

// A key's name, such as `Eb minor` or `E flat minor`.
export function prettyKey(text) {
  return inSigns(text).replace(/^([A-G])([b#]+)/, (_, letter, accidental) => letter + signs(accidental));
}

// {root, lines}: the root, and what stands beside it line by line: quality, tensions, bass.
export function parts(symbol) {
  const found = SYMBOL.exec(symbol);
  if (!found) return { root: pretty(symbol), lines: [] };
  const [, root, rest, bass] = found;
  const open = rest.indexOf("(");
  const quality = open < 0 ? rest : rest.slice(0, open);
  const tensions = open < 0 ? "" : rest.slice(open);
  const lines = [pretty(quality), pretty(tensions), bass ? `/${signs(bass)}` : ""].filter((line) => line);
  return { root: signs(root), lines };
}

const spoken = (note) => note.replaceAll("b", " flat").replaceAll("#", " sharp");

// The symbol in words for who listens: `Gbmaj7(#11)/Bb` is "G flat major 7 sharp 11 over B flat".
export function aloud(symbol) {
  const found = SYMBOL.exec(symbol);
  if (!found) return symbol;
  const [, root, rest, bass] = found;
  const words = rest
    .replace(/maj|△|Δ/g, " major ")
    .replace(/^(?:m|-)(?!a)/, " minor ")
    .replace(/ø/g, " half-diminished ")
    .replace(/°|dim/g, " diminished ")
    .replace(/sus/g, " suspended ")
    .replace(/b(?=\d)/g, " flat ")
    .replace(/#(?=\d)/g, " sharp ")
    .replace(/[(),]/g, " ");
  return `${spoken(root)} ${words}${bass ? ` over ${spoken(bass)}` : ""}`.replace(/\s+/g, " ").trim();
}

export const aloudKey = (key) =>
  key.replace(/^([A-G])([b#]*)/, (_, letter, accidental) => letter + spoken(accidental));

// Puts words into an element, read aloud in other words where some are given.
export function write(element, text, spokenText = "") {
  if (!spokenText) {
    element.textContent = text;
    return;
  }
  const drawn = piece("word", text);
  drawn.setAttribute("aria-hidden", "true");
  element.replaceChildren(piece("unseen", spokenText), drawn);
}

function piece(name, text) {
  const made = document.createElement("span");
  made.className = name;
  made.textContent = text;
  return made;
}

// Draws a symbol into an element: drawn for the eye, read aloud in words.
export function draw(element, symbol) {
  const { root, lines } = parts(symbol);
  const drawn = piece(`chord lines-${lines.length}`, "");
  drawn.setAttribute("aria-hidden", "true");
  drawn.append(piece("root", root));
  if (lines.length) {
    const beside = piece("beside", "");
    for (const line of lines) beside.append(piece("line", line));
    drawn.append(beside);
  }
  element.replaceChildren(piece("unseen", aloud(symbol)), drawn);
}
