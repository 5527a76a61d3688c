// A part of a page that takes the focus when it is led to, so that keyboard and screen reader go on from there.
import { h } from "vue";

export default {
  props: { n: Number },
  mounted() {
    if (this.n) this.arrive();
  },
  methods: {
    arrive() {
      this.$el.focus({ preventScroll: true });
      this.$el.scrollIntoView({ block: "start" });
    },
  },
  watch: {
    n() {
      this.$nextTick(this.arrive);
    },
  },
  render() {
    return h("section", { tabindex: -1 }, this.$slots.default?.());
  },
};
