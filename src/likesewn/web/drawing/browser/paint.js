/**
 * Puts a scene on the screen as SVG and keeps it up to date: only what changed is touched.
 *
 * Layers from below: the world (backdrop and items, in scene units, under one transform), halos round what is
 * pointed at, chosen or focused (in the same units), lettering of fixed size, and handles, both in pixels.
 * Widths of lines are pixels whatever the view; looks are classes, so that the style sheet has the last word.
 */

import { boxOf, flattened } from "./near.js";
import { toScreen } from "./view.js";

const SVG = "http://www.w3.org/2000/svg";
const LEAST_LETTERING = 5.5; // smaller than this, in pixels, lettering is only dirt
const WIDE_LETTER = 0.58; // a letter's mean width beside its height

export function make(name, attributes = {}, parent = null) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  parent?.append(node);
  return node;
}

export function put(node, key, value) {
  if (value === null || value === undefined || value === "") node.removeAttribute(key);
  else node.setAttribute(key, String(value));
}

const HANDLE_SHAPES = {
  corner: "M0 -7L7 0L0 7L-7 0Z",
  curve: "M-5.5 0A5.5 5.5 0 1 1 5.5 0A5.5 5.5 0 1 1 -5.5 0Z",
  picked: "M-10 0H-3M3 0H10M0 -10V-3M0 3V10", // open in the middle, so that the place itself is seen
};

function rectangle(node, bounds) {
  if (!bounds) return;
  const [x, y, right, bottom] = bounds;
  for (const [key, value] of Object.entries({ x, y, width: right - x, height: bottom - y })) put(node, key, value);
}

const linesOf = (items) => items.flatMap((item) => (item.is === "line" ? [item.d] : (item.items ? linesOf(item.items) : [])));

const same = (a, b) => a === b || (Array.isArray(a) && Array.isArray(b) && a.length === b.length && a.every((v, i) => v === b[i]));

export class Painter {
  /** `svg` is the picture to paint in, `name` sets this drawing's ids apart from others of the page. */
  constructor(svg, name) {
    this.svg = svg;
    this.defs = make("defs", {}, svg);
    this.window = make("rect", {}, make("clipPath", { id: `${name}-window` }, this.defs));
    this.scenery = make("g", { class: "lsd-scenery" }, svg);
    this.world = make("g", { id: `${name}-world` }, this.scenery);
    this.image = null;
    this.paper = make("rect", { class: "lsd-paper lsd-none" }, this.world);
    this.under = make("path", { class: "lsd-under" }, this.world);
    this.items = make("g", { class: "lsd-items" }, this.world);
    this.halos = make("g", { class: "lsd-halos", "aria-hidden": "true" }, this.scenery);
    this.lettering = make("g", { class: "lsd-lettering", "aria-hidden": "true" }, svg);
    this.handles = make("g", { class: "lsd-handles" }, svg);
    this.kept = { items: [], handles: [] };
    this.targets = new Map(); // by id: {id, kind, says, node, runs, box, movable, at, part}
    this.order = []; // what Tab goes through, in order
    this.texts = [];
    this.fixed = [];
    this.touched = 0; // nodes changed by the last painting, for tests
  }

  /** Show a scene; what it shares with the one before stays as it is. */
  show(scene) {
    this.touched = 0;
    this.backdrop(scene.backdrop);
    this.paper.classList.toggle("lsd-none", !scene.paper);
    rectangle(this.paper, scene.paper);
    put(this.items, "clip-path", scene.clip ? `url(#${this.window.parentNode.id})` : "");
    rectangle(this.window, scene.clip);
    // on a photograph every line needs a light rim to be seen on any cloth
    put(this.under, "d", scene.backdrop ? linesOf(scene.items).join("") : "");
    this.texts = [];
    this.fixed = [];
    const before = this.targets;
    this.targets = new Map();
    this.order = [];
    this.before = before;
    this.kept.items = this.children(this.items, scene.items, this.kept.items, "");
    this.kept.handles = this.children(
      this.handles,
      scene.handles.map((handle) => ({ is: "handle", ...handle })),
      this.kept.handles,
      "",
    );
    this.before = null;
  }

  backdrop(backdrop) {
    if (!backdrop) {
      this.image?.remove();
      this.image = null;
      return;
    }
    if (!this.image) {
      this.image = make("image", { class: "lsd-backdrop", preserveAspectRatio: "none" });
      this.world.prepend(this.image);
    }
    const { url: href, width, height, left: x, top: y } = backdrop;
    for (const [key, value] of Object.entries({ href, width, height, x, y })) {
      if (this.image.getAttribute(key) !== String(value)) this.image.setAttribute(key, value);
    }
    put(this.image, "aria-label", backdrop.says);
    if (backdrop.says) this.image.setAttribute("role", "img");
  }

  /** Bring a group's children in line with `items`; returns what is now kept. */
  children(group, items, kept, part) {
    const old = new Map(kept.map((one) => [one.key, one]));
    const now = [];
    let next = group.firstChild;
    const counts = {};
    for (const item of items) {
      // what has a name keeps its element, and the focus with it, even where its look changes
      const name = `${item.is}:${item.id || `:${item.look ?? item.tone ?? ""}`}`;
      counts[name] = (counts[name] ?? 0) + 1;
      const key = `${name}:${counts[name]}`;
      let one = old.get(key);
      if (one) old.delete(key);
      else {
        one = { key, data: {}, node: this.made(item), kept: [] };
        this.touched += 1;
      }
      if (one.node.parentNode !== this.lettering) {
        if (one.node === next) next = next.nextSibling;
        else group.insertBefore(one.node, next);
      }
      this.update(one, item, part);
      now.push(one);
    }
    for (const one of old.values()) {
      one.node.remove();
      this.touched += 1;
      this.forget(one);
    }
    return now;
  }

  forget(one) {
    // lettering of fixed size stands outside its group
    for (const child of one.kept) {
      if (child.node.parentNode === this.lettering) child.node.remove();
      this.forget(child);
    }
  }

  made(item) {
    if (item.is === "part") {
      const group = make("g", { role: "group" });
      make("path", { class: "lsd-area" }, group);
      make("g", {}, group);
      return group;
    }
    if (item.is === "handle") {
      const group = make("g");
      make("circle", { class: "lsd-hold", r: 14 }, group);
      make("path", {}, group);
      return group;
    }
    if (item.is === "text") {
      const text = make("text", { "aria-hidden": "true" });
      if (item.fixed) this.lettering.append(text);
      return text;
    }
    return make("path");
  }

  update(one, item, part) {
    const changed = (...keys) => keys.some((key) => !same(one.data[key], item[key]));
    const fresh = one.data.is === undefined;
    switch (item.is) {
      case "line":
        if (fresh || changed("d", "look", "pick", "says", "id", "faint")) {
          this.touched += 1;
          one.node.setAttribute("d", item.d);
          one.node.setAttribute("class", `lsd-line lsd-${item.look}${item.faint ? " lsd-faint" : ""}${item.pick ? " lsd-pick" : ""}`);
          this.named(one.node, item, item.pick);
        }
        if (item.pick) this.aim(one.node, item, "line", part, item.d);
        break;
      case "area":
        if (fresh || changed("d", "tone")) {
          this.touched += 1;
          one.node.setAttribute("d", item.d);
          one.node.setAttribute("class", `lsd-area lsd-tone-${item.tone}`);
          one.node.setAttribute("aria-hidden", "true");
        }
        break;
      case "text":
        this.text(one, item, fresh || changed("at", "text", "size", "anchor", "angle", "bold", "tone", "room"));
        break;
      case "part":
        this.part(one, item, fresh || changed("d", "tone", "pick", "says", "id"));
        break;
      default:
        this.handle(one, item, fresh || changed("at", "says", "look", "movable"));
    }
    one.data = item;
  }

  part(one, item, changed) {
    const [body, inner] = one.node.childNodes;
    if (changed) {
      this.touched += 1;
      one.node.setAttribute("class", "lsd-part");
      one.node.setAttribute("data-part", item.id);
      put(one.node, "aria-label", item.says);
      put(body, "d", item.d);
      body.setAttribute("class", `lsd-area lsd-tone-${item.tone ?? "none"}${item.pick ? " lsd-pick" : ""}`);
      this.named(body, item, item.d && item.pick);
      if (item.d && !item.pick) {
        body.setAttribute("role", "img");
        body.setAttribute("aria-label", item.says);
      }
    }
    if (item.d) this.aim(body, item, "part", item.id, item.d);
    one.kept = this.children(inner, item.items, one.kept, item.id);
  }

  text(one, item, changed) {
    const { node } = one;
    if (item.fixed) this.fixed.push({ node, item });
    else this.texts.push({ node, size: item.size });
    if (!changed) return;
    this.touched += 1;
    if (node.textContent !== item.text) node.textContent = item.text;
    node.setAttribute("class", `lsd-text lsd-ink-${item.tone ?? "ink"}${item.bold ? " lsd-bold" : ""}${item.fixed ? " lsd-fixed" : ""}`);
    node.setAttribute("font-size", item.size);
    put(node, "text-anchor", item.anchor);
    if (item.fixed) return;
    node.setAttribute("x", item.at[0]);
    node.setAttribute("y", item.at[1]);
    put(node, "transform", item.angle ? `rotate(${item.angle} ${item.at[0]} ${item.at[1]})` : "");
  }

  handle(one, item, changed) {
    const [, mark] = one.node.childNodes;
    if (changed) {
      this.touched += 1;
      one.node.setAttribute("class", `lsd-handle lsd-handle-${item.look}${item.movable ? " lsd-movable" : ""}`);
      mark.setAttribute("d", HANDLE_SHAPES[item.look] ?? HANDLE_SHAPES.corner);
      this.named(one.node, item, true);
    }
    const [x, y] = item.at;
    this.register({ id: item.id, kind: "handle", says: item.says, node: one.node, at: [x, y], movable: item.movable, part: "", runs: [[[x, y]]], box: [x, y, x, y] });
  }

  /** Role, name and place in the order of Tab of something that can be picked. */
  named(node, item, picks) {
    put(node, "data-id", item.id);
    put(node, "role", picks ? "button" : "");
    put(node, "aria-label", picks ? item.says : "");
    put(node, "aria-hidden", picks || item.is === "part" ? "" : "true");
    if (picks || item.is === "part") node.setAttribute("tabindex", node === document.activeElement ? "0" : "-1");
    else node.removeAttribute("tabindex");
  }

  aim(node, item, kind, part, d) {
    const before = this.before?.get(item.id);
    const known = before?.d === d && before.kind === kind ? before : null;
    const runs = known?.runs ?? flattened(d);
    this.register({ id: item.id, kind, says: item.says, node, part, d, runs, box: known?.box ?? boxOf(runs), pick: item.pick });
  }

  register(one) {
    this.targets.set(one.id, one);
    this.order.push(one);
  }

  /** Show the same scene from another place. */
  settle(view) {
    const { scale, x, y } = view;
    this.scenery.setAttribute("transform", `matrix(${scale} 0 0 ${scale} ${x} ${y})`);
    for (const { node, size } of this.texts) node.classList.toggle("lsd-far", size * scale < LEAST_LETTERING);
    for (const { node, item } of this.fixed) {
      const [sx, sy] = toScreen(view, item.at);
      node.setAttribute("x", sx);
      node.setAttribute("y", sy);
      put(node, "transform", item.angle ? `rotate(${item.angle} ${sx} ${sy})` : "");
      const wide = item.text.length * item.size * WIDE_LETTER;
      node.classList.toggle("lsd-far", Boolean(item.room) && item.room * scale < wide);
    }
    for (const one of this.targets.values()) {
      if (one.kind === "handle") this.place(one, view);
    }
  }

  place(one, view) {
    const [x, y] = toScreen(view, one.at);
    one.node.setAttribute("transform", `translate(${x} ${y})`);
  }

  /** Move a handle without waiting for a new scene. */
  hold(id, at, view) {
    const one = this.targets.get(id);
    if (!one || one.kind !== "handle") return;
    one.at = at;
    one.runs = [[at]];
    one.box = [at[0], at[1], at[0], at[1]];
    this.place(one, view);
  }

  /** Mark what is `over`, `chosen` or `focus`; an unknown id takes the mark away. */
  mark(what, id) {
    const one = this.targets.get(id);
    let halo = this.halos.querySelector(`.lsd-halo-${what}`);
    if (one?.d) {
      halo ??= make("path", { class: `lsd-halo lsd-halo-${what}` }, this.halos);
      halo.setAttribute("d", one.d);
      halo.classList.toggle("lsd-whole", one.kind === "part");
    } else halo?.remove();
    for (const node of this.svg.querySelectorAll(`.lsd-is-${what}`)) {
      node.classList.remove(`lsd-is-${what}`);
      if (what === "chosen") node.removeAttribute("aria-pressed");
    }
    one?.node.classList.add(`lsd-is-${what}`);
    if (what === "chosen" && one?.node.getAttribute("role") === "button") one.node.setAttribute("aria-pressed", "true");
  }
}
