// The way to the head: one ramp that rises to the head and drains toward it. Notched at bar lines, the pickup hatched.

const SVG = "http://www.w3.org/2000/svg";
const WALL = 10; // px: the head itself, at the right end
const LAST = 0.25; // the last bar never has less than this part of the way: it is looked at most

// Where, from 0 to 1, so many beats before the head lie on a way of `all` beats. Pure.
export function place(toHead, all, meter) {
  if (!(all > 0)) return 0;
  const left = Math.min(Math.max(toHead, 0), all);
  const last = Math.min(meter, all);
  if (last >= all || last / all >= LAST) return 1 - left / all;
  if (left <= last) return 1 - (left / last) * LAST;
  return (1 - LAST) * (1 - (left - last) / (all - last));
}

function make(kind, attributes, ...children) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.append(...children);
  return made;
}

export class Way {
  // wayShape, wayFilled: pictures of the whole and of what is left; wayLeft: the window on that; wayHere: where we are.
  constructor({ wayShape, wayLeft, wayFilled, wayHere }) {
    this.shell = wayShape;
    this.window = wayLeft;
    this.filled = wayFilled;
    this.here = wayHere;
    this.drawn = "";
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
  }

  // The shape of a way of `all` beats in bars of `meter`, the last `pickup` beats hatched.
  shape(all, meter, pickup) {
    const width = this.shell.clientWidth;
    const height = this.shell.clientHeight;
    const name = `${width} ${height} ${all} ${meter} ${pickup}`;
    if (name === this.drawn || !width || !height) return;
    this.drawn = name;
    this.all = all;
    this.meter = meter;
    this.length = width - WALL - 4;
    this.height = height;
    this.at = null;
    const edge = this.edge();
    const from = place(pickup, all, meter) * this.length;
    for (const svg of [this.shell, this.filled]) svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.shell.replaceChildren(
      make("path", { class: "way-shell", d: edge }),
      make("rect", { class: "way-wall", x: this.length + 4, y: 0, width: WALL, height }),
    );
    this.filled.replaceChildren(
      make(
        "defs",
        {},
        make("clipPath", { id: "way-edge" }, make("path", { d: edge })),
        make(
          "pattern",
          { id: "way-hatch", width: 14, height: 14, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
          make("rect", { class: "way-stripe", width: 7, height: 14 }),
        ),
      ),
      make("path", { class: "way-fill", d: edge }),
      make(
        "g",
        { "clip-path": "url(#way-edge)" },
        make("rect", { class: "way-pickup", x: from, y: 0, width: pickup > 0 ? this.length - from : 0, height }),
      ),
    );
  }

  // How far down the ramp's edge lies at a part of the way, from 0 to 1.
  top(part) {
    return this.height * 0.8 * (1 - part);
  }

  edge() {
    const { all, meter, length, height } = this;
    let path = `M0 ${height}L0 ${this.top(0)}`;
    for (let left = all - meter; all && left > 0.01; left -= meter) {
      const part = place(left, all, meter);
      const x = part * length;
      const half = Math.min(9, (length * meter) / all / 7);
      const deep = Math.min(this.top(part) + (height - this.top(part)) * 0.45, height - 4);
      const [before, behind] = [part - half / length, part + half / length].map((at) => this.top(at));
      path += `L${x - half} ${before}L${x} ${deep}L${x + half} ${behind}`;
    }
    return `${path}L${length} ${this.top(1)}L${length} ${height}Z`;
  }

  // Drains to so many beats before the head. With less motion it steps from beat to beat.
  drain(toHead) {
    if (!this.drawn) return;
    const left = this.still.matches ? Math.ceil(toHead - 0.001) : toHead;
    const x = Math.round(place(left, this.all, this.meter) * this.length * 2) / 2;
    if (x === this.at) return;
    this.at = x;
    const above = Math.max(0, this.top(x / this.length) - 10); // it looks over the edge
    this.window.style.transform = `translateX(${x}px)`;
    this.filled.style.transform = `translateX(${-x}px)`;
    this.here.style.transform = `translate(${x}px, ${above}px)`;
  }
}
