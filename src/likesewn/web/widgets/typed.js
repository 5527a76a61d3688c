// A field to type or choose in: a native input, select or textarea. It tells of a value when the person is done
// with it (the change event), and keeps what they typed until the server sends another value: the value is put into
// the field when it changes, not each time that something on the page is rendered, and not while someone is typing.
// Rendered without a template, so that no code is made from text in the browser.
import { h } from "vue";

export default {
  props: { tag: String, value: {}, options: Array, field: Object, live: Boolean },
  emits: ["value", "typing"],
  mounted() {
    this.typing = false;
    this.put();
  },
  watch: {
    value: { handler: "put", flush: "post" },
    options: { handler: "put", flush: "post" },
  },
  methods: {
    put() {
      if (this.typing && this.$el === document.activeElement) return;
      const type = this.field?.type;
      if (type === "checkbox" || type === "radio") this.$el.checked = this.value === true;
      else if (this.$el.value !== String(this.value ?? "")) this.$el.value = this.value ?? "";
    },
  },
  render() {
    const onInput = (event) => {
      this.typing = true;
      if (this.live) this.$emit("typing", read(event.target));
    };
    const onChange = (event) => {
      this.typing = false;
      this.$emit("value", read(event.target));
    };
    const props = { ...this.field, onInput, onChange };
    if (this.tag !== "select") return h(this.tag || "input", props);
    const options = (this.options || []).map(([value, text]) => h("option", { value, key: value }, text));
    return h("select", props, options);
  },
};

function read(target) {
  return target.type === "checkbox" ? target.checked : target.value;
}
