/** The loupe: backdrop and lines enlarged round a point, standing clear of the finger. */

import { make } from "./paint.js";
import { loupePlace } from "./view.js";

const RADIUS = 66;
const LARGER = 4; // how much larger than the view the loupe shows
const LEAST = 2; // pixels to the scene unit that it shows at least

export class Loupe {
  constructor(svg, defs, name) {
    const clip = make("clipPath", { id: `${name}-loupe` }, defs);
    make("circle", { r: RADIUS }, clip);
    this.group = make("g", { class: "lsd-loupe lsd-none", "aria-hidden": "true" }, svg);
    make("circle", { class: "lsd-loupe-ground", r: RADIUS }, this.group);
    const glass = make("g", { "clip-path": `url(#${name}-loupe)` }, this.group);
    this.world = make("use", { href: `#${name}-world` }, glass);
    const d = "M-14 0H-4M4 0H14M0 -14V-4M0 4V14";
    make("path", { class: "lsd-loupe-rest", d }, this.group);
    make("path", { class: "lsd-loupe-cross", d }, this.group);
    make("circle", { class: "lsd-loupe-rim", r: RADIUS }, this.group);
  }

  /** Show the surroundings of a place of the scene, clear of the point `finger` of the screen. */
  show(at, finger, view, size) {
    const [x, y] = loupePlace(finger, size, RADIUS);
    const scale = Math.max(view.scale * LARGER, LEAST);
    this.group.setAttribute("transform", `translate(${x} ${y})`);
    this.world.setAttribute("transform", `matrix(${scale} 0 0 ${scale} ${-at[0] * scale} ${-at[1] * scale})`);
    this.group.classList.remove("lsd-none");
  }

  hide() {
    this.group.classList.add("lsd-none");
  }
}
