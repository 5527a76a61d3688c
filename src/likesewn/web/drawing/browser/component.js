/**
 * The drawing component: shows a scene, and tells what a person points at, picks, moves and places.
 *
 * `new LikesewnDrawing(root, { words, tell })`: `root` is an empty element, `words` its texts, and
 * `tell(event, detail)` is called with pick {id}, move {id, x, y, done}, place {x, y}, over {id}.
 */

import { Keys } from "./keys.js";
import { Loupe } from "./loupe.js";
import { target } from "./near.js";
import { make, Painter } from "./paint.js";
import { Pointing } from "./pointing.js";
import { RULER, Rulers } from "./rulers.js";
import { clamped, figure, fitted, panned, reach, revealed, toScene, toScreen, zoomed } from "./view.js";

const BUTTON_ROW = 52; // pixels at the foot that buttons take
const RIM = 12;
const REACH = { mouse: { handle: 16, line: 12 }, touch: { handle: 28, line: 20 } };
const MOVES_EVERY = 40; // ms between two words of a handle on its way
const MEASURE = "likesewn-drawing"; // how long each painting took, for whoever looks at the browser's timings
const MEASURES_KEPT = 200;
const NOTHING = { title: "", summary: "", bounds: [0, 0, 1, 1], unit: "cm", scale: 1, items: [], handles: [] };
const ICONS = { fit: "M2 6V2H6M10 2H14V6M14 10V14H10M6 14H2V10", larger: "M8 3V13M3 8H13", smaller: "M3 8H13" };
const MM = { mm: 1, cm: 10, in: 25.4 };

let made = 0;

export class LikesewnDrawing {
  constructor(root, { words, tell }) {
    made += 1;
    const name = `lsd-${made}`;
    this.root = root;
    this.words = words;
    this.tell = tell;
    this.scene = NOTHING;
    this.mode = "look";
    this.chosenId = "";
    this.overId = "";
    this.byPointer = false; // true while a pointer gives the drawing the focus
    this.free = false; // true once the person has chosen a view of their own
    this.size = { width: 1, height: 1 };
    this.view = { scale: 1, x: 0, y: 0 };
    this.cursor = null;
    this.build(name);
    this.painter = new Painter(this.svg, name);
    this.cross = make("path", { class: "lsd-cursor lsd-none", d: "M-16 0H-4M4 0H16M0 -16V-4M0 4V16" }, this.svg);
    this.rulers = new Rulers(this.svg);
    this.loupe = new Loupe(this.svg, this.painter.defs, name);
    this.pointing = new Pointing(this.svg, this);
    this.keys = new Keys(this.svg, this);
    // pointers never meet the lines themselves; a click on one comes from an assistive program
    this.svg.addEventListener("click", (event) => event.target.dataset.id && this.pick(event.target.dataset.id));
    this.watch = new ResizeObserver(() => this.resized());
    this.watch.observe(root);
    this.resized();
  }

  build(name) {
    const page = this.root.ownerDocument;
    const element = (tag, cls, parent, text = "") => {
      const node = page.createElement(tag);
      node.className = cls;
      node.textContent = text;
      parent.append(node);
      return node;
    };
    this.root.classList.add("lsd");
    this.svg = make("svg", { class: "lsd-svg", role: "group", tabindex: "0", "aria-describedby": `${name}-help ${name}-says` }, this.root);
    this.label = element("div", "lsd-label lsd-none", this.root);
    this.label.setAttribute("aria-hidden", "true");
    const row = element("div", "lsd-buttons", this.root);
    for (const [what, act] of [
      ["smaller", () => this.zoomBy(1 / 1.4)],
      ["larger", () => this.zoomBy(1.4)],
      ["fit", () => this.fit()],
    ]) {
      const button = element("button", "lsd-button", row);
      button.type = "button";
      button.setAttribute("aria-label", this.words[what]);
      button.title = this.words[what];
      const icon = make("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" }, button);
      make("path", { d: ICONS[what] }, icon);
      button.addEventListener("click", act);
    }
    this.help = element("p", "lsd-help", this.root, this.words.help);
    this.help.id = `${name}-help`;
    this.says = element("p", "lsd-hidden", this.root);
    this.says.id = `${name}-says`;
    this.live = element("div", "lsd-hidden", this.root);
    this.live.setAttribute("role", "status");
  }

  /** Show a scene. The view stays where the person left it, unless the scene is of another thing. */
  set(scene) {
    const started = performance.now();
    const other = scene.title !== this.scene.title;
    const focus = this.keys.id;
    this.scene = scene;
    this.painter.show(scene);
    if (focus && !this.painter.targets.has(focus)) this.svg.focus({ preventScroll: true });
    this.svg.setAttribute("aria-label", scene.title);
    if (this.says.textContent !== scene.summary) this.says.textContent = scene.summary;
    if (other) this.free = false;
    if (this.pointing.gesture?.is === "hold" && this.heldAt) this.painter.hold(this.pointing.gesture.id, this.heldAt, this.view);
    if (this.free) this.look(this.view);
    else this.fit();
    this.painter.mark("chosen", this.chosenId);
    this.painter.mark("over", this.keys.id ? "" : this.overId);
    this.painter.mark("focus", this.keys.id);
    if (performance.getEntriesByName(MEASURE).length >= MEASURES_KEPT) performance.clearMeasures(MEASURE);
    performance.measure(MEASURE, { start: started, end: performance.now() });
  }

  /** Mark something as chosen; an empty id takes the mark away. */
  choose(id) {
    this.chosenId = id ?? "";
    this.painter.mark("chosen", this.chosenId);
  }

  /** What pointing does: `look` (pick), `move` (handles can be held) or `place` (points are put down). */
  setMode(mode) {
    if (mode === this.mode) return;
    this.mode = mode;
    this.loupe.hide();
    this.svg.dataset.mode = mode;
    this.cursor = null;
    this.cross.classList.add("lsd-none");
    this.help.textContent = mode === "place" ? this.words.help_place : mode === "move" ? this.words.help_move : this.words.help;
  }

  /** Let go of everything outside the root. */
  destroy() {
    this.watch.disconnect();
    this.root.replaceChildren();
  }

  resized() {
    const { width, height } = this.svg.getBoundingClientRect();
    if (!width || !height) return;
    const before = this.size;
    this.size = { width, height };
    if (this.free) this.look(panned(this.view, (width - before.width) / 2, (height - before.height) / 2));
    else this.fit();
  }

  get insets() {
    const ruler = this.scene.scale ? RULER : 0;
    return { left: ruler + RIM, top: ruler + RIM, right: RIM, bottom: this.size.height > 260 ? BUTTON_ROW : RIM };
  }

  get limits() {
    return reach(this.scene.bounds, this.size, this.insets);
  }

  get order() {
    return this.painter.order;
  }

  fit() {
    this.look(fitted(this.scene.bounds, this.size, this.insets));
    this.free = false;
  }

  look(view) {
    this.view = clamped(view, this.scene.bounds, this.size);
    this.painter.settle(this.view);
    this.rulers.draw(this.view, this.size, this.scene.unit, this.scene.scale);
    if (this.cursor) this.showCursor();
  }

  panBy(dx, dy) {
    this.free = true;
    this.hideLabel();
    this.look(panned(this.view, dx, dy));
  }

  zoomBy(factor, about = [this.size.width / 2, this.size.height / 2]) {
    this.free = true;
    this.hideLabel();
    this.look(zoomed(this.view, factor, about, this.limits));
  }

  /** What lies under a point of the screen, or null. */
  find(at, touch = false) {
    const { handle, line } = REACH[touch ? "touch" : "mouse"];
    const scale = this.view.scale;
    return target(this.order, toScene(this.view, at), { handle: handle / scale, line: line / scale });
  }

  /** The pointer is at a place of the screen, or gone (null). */
  point(at) {
    this.rulers.point(at);
    if (this.mode === "place") this.aiming(at && toScene(this.view, at), at);
    const found = at ? this.find(at) : null;
    const here = found && this.mode !== "place" ? found : null;
    this.svg.classList.toggle("lsd-on-pick", Boolean(here && this.picks(here)));
    this.svg.classList.toggle("lsd-on-handle", Boolean(here?.movable && this.mode === "move"));
    this.over(here);
    if (here?.says) this.showLabel(here.says, at);
    else this.hideLabel();
  }

  picks(one) {
    return one.kind === "handle" || Boolean(one.pick);
  }

  over(one, focused = false) {
    const id = one?.id ?? "";
    // what is focused has a mark of its own
    this.painter.mark("over", focused ? "" : id);
    if (id === this.overId) return;
    this.overId = id;
    this.tell("over", { id });
  }

  showLabel(text, [x, y]) {
    if (this.label.textContent !== text) this.label.textContent = text;
    this.label.classList.remove("lsd-none");
    const { offsetWidth: wide, offsetHeight: high } = this.label;
    const left = Math.min(Math.max(x + 14, 4), Math.max(this.size.width - wide - 4, 4));
    const top = y + 18 + high > this.size.height ? y - high - 12 : y + 18;
    this.label.style.translate = `${Math.round(left)}px ${Math.round(Math.max(top, 4))}px`;
  }

  hideLabel() {
    this.label.classList.add("lsd-none");
  }

  tap(at, touch) {
    if (this.mode === "place") {
      this.placed(toScene(this.view, at));
      return;
    }
    const found = this.find(at, touch);
    if (touch && found?.says) this.showLabel(found.says, at);
    if (!found && touch) this.hideLabel();
    if (found) this.pick(found.id);
  }

  pick(id) {
    const one = this.painter.targets.get(id);
    if (!one) return;
    if (this.picks(one)) this.tell("pick", { id });
    this.speak(one.says);
  }

  speak(text) {
    this.live.textContent = text;
  }

  // held handles

  movable(id) {
    const one = this.painter.targets.get(id);
    return this.mode === "move" && one?.kind === "handle" && one.movable;
  }

  holding(id, place, finger, moved) {
    this.heldAt = place;
    this.hideLabel();
    this.over(this.painter.targets.get(id));
    this.painter.hold(id, place, this.view);
    this.loupe.show(place, finger, this.view, this.size);
    if (!moved) return;
    clearTimeout(this.later);
    const wait = (this.told ?? 0) + MOVES_EVERY - performance.now();
    const tell = () => {
      this.told = performance.now();
      this.tell("move", { id, x: place[0], y: place[1], done: false });
    };
    if (wait <= 0) tell();
    else this.later = setTimeout(tell, wait);
  }

  released(id, place, moved) {
    clearTimeout(this.later);
    this.told = 0;
    this.heldAt = null;
    this.loupe.hide();
    this.painter.hold(id, place, this.view);
    if (moved) {
      this.tell("move", { id, x: place[0], y: place[1], done: true });
      this.speak(this.whereWords(id, place));
    } else this.pick(id);
  }

  nudge(id, dx, dy) {
    const one = this.painter.targets.get(id);
    const place = [one.at[0] + dx, one.at[1] + dy];
    this.view = revealed(this.view, [...place, ...place], this.size, this.insets);
    this.look(this.view);
    this.holding(id, place, toScreen(this.view, place), true);
  }

  nudged(id) {
    const one = this.painter.targets.get(id);
    if (one) this.released(id, one.at, true);
  }

  whereWords(id, [x, y]) {
    const { scale, unit } = this.scene;
    const say = (v) => (scale ? `${figure((v * scale) / MM[unit], unit)} ${unit}` : String(Math.round(v)));
    const words = this.words.at.replace("{x}", say(x)).replace("{y}", say(y));
    const one = this.painter.targets.get(id);
    return one?.says ? `${one.says}: ${words}` : words;
  }

  // points to place

  aiming(place, finger) {
    if (place) this.loupe.show(place, finger, this.view, this.size);
    else this.loupe.hide();
  }

  placed([x, y]) {
    this.tell("place", { x, y });
    this.speak(this.whereWords("", [x, y]));
  }

  moveCursor(dx, dy) {
    this.cursor ??= toScene(this.view, [this.size.width / 2, this.size.height / 2]);
    this.cursor = [this.cursor[0] + dx, this.cursor[1] + dy];
    this.look(revealed(this.view, [...this.cursor, ...this.cursor], this.size, this.insets));
    this.loupe.show(this.cursor, toScreen(this.view, this.cursor), this.view, this.size);
    this.speak(this.whereWords("", this.cursor));
  }

  showCursor() {
    const [x, y] = toScreen(this.view, this.cursor);
    this.cross.setAttribute("transform", `translate(${x} ${y})`);
    this.cross.classList.remove("lsd-none");
  }

  placeAtCursor() {
    if (!this.cursor) this.moveCursor(0, 0);
    else this.placed(this.cursor);
  }

  // focus

  /** Where the keyboard's zoom keeps still: what is focused, else the middle. */
  aim(id) {
    const one = this.painter.targets.get(id);
    if (!one) return [this.size.width / 2, this.size.height / 2];
    return toScreen(this.view, [(one.box[0] + one.box[2]) / 2, (one.box[1] + one.box[3]) / 2]);
  }

  /** Something has the focus: a target's id, the drawing itself (""), or nothing in it (null). */
  focused(id) {
    this.root.classList.toggle("lsd-focused", id !== null && !this.byPointer);
    const one = this.painter.targets.get(id);
    this.painter.mark("focus", one ? id : "");
    if (!one) {
      this.hideLabel();
      this.loupe.hide();
      this.over(null);
      if (id === null) this.cross.classList.add("lsd-none");
      return;
    }
    const view = revealed(this.view, one.box, this.size, this.insets);
    if (view !== this.view) {
      this.free = true;
      this.look(view);
    }
    this.over(one, true);
    this.speak(one.says);
    const [x, y] = this.aim(id);
    this.showLabel(one.says, [x, y]);
  }
}
