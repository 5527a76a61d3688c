// A field to type or choose in: a native input, select or textarea. It tells of a value when the person is done
// with it (the change event), and keeps what they typed until the server sends another value.
// Rendered without a template, so that no code is made from text in the browser.
import { h } from "vue";

export default {
  props: { tag: String, value: {}, options: Array, field: Object, live: Boolean },
  emits: ["value", "typing"],
  render() {
    const props = { ...this.field };
    const told = (event) => this.$emit("value", read(event.target));
    if (this.tag === "select") {
      const options = (this.options || []).map(([value, text]) =>
        h("option", { value, selected: value === this.value, key: value }, text),
      );
      return h("select", { ...props, value: this.value, onChange: told }, options);
    }
    if (props.type === "checkbox" || props.type === "radio") {
      return h("input", { ...props, checked: this.value === true, onChange: told });
    }
    if (this.live) props.onInput = (event) => this.$emit("typing", read(event.target));
    return h(this.tag || "input", { ...props, value: this.value ?? "", onChange: told });
  },
};

function read(target) {
  return target.type === "checkbox" ? target.checked : target.value;
}
