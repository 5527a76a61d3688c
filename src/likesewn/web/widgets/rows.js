// A box of rows, each an element with `data-row`: tells which row is pointed at or has the focus (event `over`), marks
// the rows whose `data-marks` name what is pointed at elsewhere, leads to a row when it is asked to, and goes from
// figure to figure with Enter. The help of a figure stays open until another figure gets the focus, and opens once the
// pointer is let go: nothing moves away from under a finger.
import { h } from "vue";

const FIGURE = "[data-figure]";

export default {
  props: { lead: Object, marked: String },
  emits: ["over"],
  created() {
    this.told = "";
    this.held = false;
    this.opened = null;
    this.waiting = null;
  },
  mounted() {
    this.up = () => this.released();
    window.addEventListener("pointerup", this.up);
    window.addEventListener("pointercancel", this.up);
    this.mark();
    this.go();
  },
  beforeUnmount() {
    window.removeEventListener("pointerup", this.up);
    window.removeEventListener("pointercancel", this.up);
  },
  updated() {
    this.mark();
    this.opened?.classList.add("ls-open");
  },
  watch: {
    marked() {
      this.mark();
    },
    lead() {
      this.go();
    },
  },
  methods: {
    tell(key) {
      if (key === this.told) return;
      this.told = key;
      this.$emit("over", key);
    },
    rowOf(target) {
      return target.closest?.("[data-row]");
    },
    mark() {
      for (const row of this.$el.querySelectorAll("[data-marks]")) {
        const on = this.marked !== "" && row.dataset.marks.split(" ").includes(this.marked);
        row.classList.toggle("ls-over", on);
      }
    },
    open(row) {
      if (row === this.opened) return;
      this.opened?.classList.remove("ls-open");
      this.opened = row;
      row.classList.add("ls-open");
    },
    released() {
      this.held = false;
      if (this.waiting) this.open(this.waiting);
      this.waiting = null;
    },
    focused(event) {
      const row = this.rowOf(event.target);
      this.tell(row ? row.dataset.row : "");
      if (!row || !event.target.matches(FIGURE)) return;
      if (this.held) this.waiting = row;
      else this.open(row);
    },
    pressed(event) {
      if (event.key !== "Enter" || event.isComposing || !event.target.matches(FIGURE)) return;
      event.preventDefault();
      const figures = [...this.$el.querySelectorAll(FIGURE)].filter((one) => one.offsetParent !== null);
      const next = figures[figures.indexOf(event.target) + (event.shiftKey ? -1 : 1)];
      if (next) {
        next.focus();
        next.select?.();
      } else {
        event.target.blur();
        event.target.focus();
      }
    },
    go() {
      const key = this.lead?.key;
      if (!key) return;
      const row = this.$el.querySelector(`[data-row="${CSS.escape(key)}"]`);
      if (!row) return;
      for (let up = row; up && up !== this.$el; up = up.parentElement) if (up.tagName === "DETAILS") up.open = true;
      if (row.tagName === "DETAILS") row.open = true;
      const field = row.matches("input, select, textarea, summary") ? row : row.querySelector("input, select, textarea, summary");
      (field || row).focus();
      row.scrollIntoView({ block: "nearest" });
      field?.select?.();
    },
  },
  render() {
    return h(
      "div",
      {
        onPointerover: (event) => this.tell(this.rowOf(event.target)?.dataset.row || ""),
        onPointerleave: () => this.tell(""),
        onPointerdown: () => (this.held = true),
        onFocusin: this.focused,
        onKeydown: this.pressed,
      },
      this.$slots.default?.(),
    );
  },
};
