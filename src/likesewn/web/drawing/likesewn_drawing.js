import { h, toRaw } from "vue";
import { LikesewnDrawing } from "likesewn-drawing/component.js";

/** Joins the drawing component to the page: props in, events out. It has no state of its own. */
export default {
  props: { scene: Object, stamp: Number, chosen: String, mode: String, words: Object },
  emits: ["pick", "move", "place", "over"],
  render() {
    return h("div", { class: "lsd-frame" }, [h("div", { ref: "root" })]);
  },
  mounted() {
    const tell = (event, detail) => this.$emit(event, detail);
    // not declared as data, so that Vue does not watch every line of every scene
    this.drawing = new LikesewnDrawing(this.$refs.root, { words: toRaw(this.words), tell });
    this.drawing.setMode(this.mode);
    this.show();
  },
  beforeUnmount() {
    this.drawing.destroy();
  },
  methods: {
    show() {
      if (this.scene) this.drawing.set(toRaw(this.scene));
      this.drawing.choose(this.chosen);
    },
  },
  watch: {
    stamp() {
      this.show();
    },
    chosen(id) {
      this.drawing.choose(id);
    },
    mode(mode) {
      this.drawing.setMode(mode);
    },
  },
};
