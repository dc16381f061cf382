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
  constructor(svg) {
    this.svg = svg;
    this.drawn = "";
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
    this.gone = make("rect", { x: 0, y: 0, width: 0, height: 0 });
    this.here = make("rect", { class: "way-here", x: 0, y: 0, width: 6, height: 0 });
  }

  // The shape of a way of `all` beats in bars of `meter`, the last `pickup` beats hatched.
  shape(all, meter, pickup) {
    const width = this.svg.clientWidth;
    const height = this.svg.clientHeight;
    const name = `${width} ${height} ${all} ${meter} ${pickup}`;
    if (name === this.drawn || !width || !height) return;
    this.drawn = name;
    this.all = all;
    this.meter = meter;
    this.length = width - WALL - 4;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const low = height * 0.8;
    const top = (part) => low * (1 - part);
    this.top = (x) => top(x / this.length);
    this.height = height;
    let edge = `M0 ${height}L0 ${top(0)}`;
    for (let left = all - meter; all && left > 0.01; left -= meter) {
      const part = place(left, all, meter);
      const x = part * this.length;
      const half = Math.min(9, (this.length * meter) / all / 7);
      const deep = Math.min(top(part) + (height - top(part)) * 0.45, height - 4);
      edge += `L${x - half} ${top(part - half / this.length)}L${x} ${deep}L${x + half} ${top(part + half / this.length)}`;
    }
    edge += `L${this.length} ${top(1)}L${this.length} ${height}Z`;
    const from = place(pickup, all, meter) * this.length;
    this.gone.setAttribute("height", height);
    this.svg.replaceChildren(
      make(
        "defs",
        {},
        make("clipPath", { id: "way-left" }, this.gone),
        make("clipPath", { id: "way-edge" }, make("path", { d: edge })),
        make(
          "pattern",
          { id: "way-hatch", width: 14, height: 14, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
          make("rect", { class: "way-stripe", width: 7, height: 14 }),
        ),
      ),
      make("path", { class: "way-shell", d: edge }),
      make(
        "g",
        { "clip-path": "url(#way-left)" },
        make("path", { class: "way-fill", d: edge }),
        make(
          "g",
          { "clip-path": "url(#way-edge)" },
          make("rect", {
            class: "way-pickup", x: from, y: 0, width: pickup > 0 ? this.length - from : 0, height,
          }),
        ),
      ),
      this.here,
      make("rect", { class: "way-wall", x: this.length + 4, y: 0, width: WALL, height }),
    );
    this.at = null;
  }

  // Drains to so many beats before the head. With less motion it steps from beat to beat.
  drain(toHead) {
    if (!this.drawn) return;
    const left = this.still.matches ? Math.ceil(toHead - 0.001) : toHead;
    const x = place(left, this.all, this.meter) * this.length;
    if (this.at !== null && Math.abs(x - this.at) < 0.2) return;
    this.at = x;
    this.gone.setAttribute("x", x);
    this.gone.setAttribute("width", Math.max(0, this.length - x));
    const above = Math.max(0, this.top(x) - 10); // it looks over the edge
    this.here.setAttribute("x", Math.max(0, x - 3));
    this.here.setAttribute("y", above);
    this.here.setAttribute("height", this.height - above);
  }
}
