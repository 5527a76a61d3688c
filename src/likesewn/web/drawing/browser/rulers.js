/** Rulers along the top and the left of the drawing, in the person's unit. */

import { make, put } from "./paint.js";
import { ticks, toScene, toScreen } from "./view.js";

export const RULER = 24; // pixels that a ruler takes
const LONG = [5, 8, 12];

export class Rulers {
  constructor(svg) {
    this.group = make("g", { class: "lsd-rulers", "aria-hidden": "true" }, svg);
    this.across = this.one("across");
    this.down = this.one("down");
    this.corner = make("rect", { class: "lsd-ruler-ground", width: RULER, height: RULER }, this.group);
    this.unit = make("text", { class: "lsd-figure", x: RULER / 2, y: RULER / 2 + 3.5, "text-anchor": "middle" }, this.group);
  }

  one(name) {
    const group = make("g", { class: `lsd-ruler-${name}` }, this.group);
    return {
      ground: make("rect", { class: "lsd-ruler-ground" }, group),
      marks: make("path", { class: "lsd-ruler-marks" }, group),
      place: make("path", { class: "lsd-ruler-place" }, group),
      figures: make("g", {}, group),
    };
  }

  /** Draw the rulers for a view; a scene without a scale has none. */
  draw(view, size, unit, mmPerUnit) {
    const shown = Boolean(mmPerUnit);
    this.group.classList.toggle("lsd-none", !shown);
    if (!shown) return;
    if (this.unit.textContent !== unit) this.unit.textContent = unit;
    const [left, top] = toScene(view, [RULER, RULER]);
    const [right, bottom] = toScene(view, [size.width, size.height]);
    const density = view.scale / mmPerUnit;
    const at = (mm, axis) => toScreen(view, [mm / mmPerUnit, mm / mmPerUnit])[axis];
    this.run(this.across, ticks(left * mmPerUnit, right * mmPerUnit, density, unit), size.width, (mm) => at(mm, 0), true);
    this.run(this.down, ticks(top * mmPerUnit, bottom * mmPerUnit, density, unit), size.height, (mm) => at(mm, 1), false);
  }

  run(ruler, marks, long, where, across) {
    ruler.ground.setAttribute("width", across ? long : RULER);
    ruler.ground.setAttribute("height", across ? RULER : long);
    let d = "";
    const figures = [];
    for (const mark of marks) {
      const p = Math.round(where(mark.at)) + 0.5;
      const from = RULER - LONG[mark.length];
      d += across ? `M${p} ${from}V${RULER}` : `M${from} ${p}H${RULER}`;
      if (mark.text) figures.push([p, mark.text]);
    }
    put(ruler.marks, "d", d);
    const nodes = ruler.figures.childNodes;
    while (nodes.length > figures.length) ruler.figures.lastChild.remove();
    while (nodes.length < figures.length) make("text", { class: "lsd-figure" }, ruler.figures);
    figures.forEach(([p, text], i) => {
      const node = nodes[i];
      if (node.textContent !== text) node.textContent = text;
      node.setAttribute("x", across ? p + 3 : 10);
      node.setAttribute("y", across ? 11 : p - 3);
      put(node, "transform", across ? "" : `rotate(-90 10 ${p - 3})`);
    });
  }

  /** Show where the pointer is. */
  point(at) {
    put(this.across.place, "d", at && at[0] > RULER ? `M${at[0]} 0V${RULER}` : "");
    put(this.down.place, "d", at && at[1] > RULER ? `M0 ${at[1]}H${RULER}` : "");
  }
}
