// Sends files to the server: a file input that also takes what is dropped on its box.
// Each file is one POST of its bytes; what the server answers is told with the event `sent`.
import { h } from "vue";

export default {
  props: { to: String, accept: String, many: Boolean, field: Object, words: Object },
  emits: ["sent", "begun"],
  data: () => ({ over: false, busy: "" }),
  methods: {
    async send(files) {
      for (const file of files) {
        this.busy = file.name;
        this.$emit("begun", file.name);
        this.$emit("sent", await this.post(file));
        if (!this.many) break;
      }
      this.busy = "";
    },
    async post(file) {
      try {
        const headers = { "content-type": "application/octet-stream", "x-file-name": encodeURIComponent(file.name) };
        const answer = await fetch(this.to, { method: "POST", body: file, headers, credentials: "same-origin" });
        const said = await answer.json().catch(() => ({}));
        return { ok: answer.ok, status: answer.status, name: file.name, ...said };
      } catch {
        return { ok: false, status: 0, name: file.name };
      }
    },
  },
  render() {
    const input = h("input", {
      ...this.field,
      type: "file",
      accept: this.accept,
      multiple: this.many,
      disabled: this.busy !== "",
      onChange: async (event) => {
        await this.send([...event.target.files]);
        event.target.value = "";
      },
    });
    return h(
      "div",
      {
        class: { "ls-sender": true, "ls-sender-over": this.over },
        onDragover: (event) => {
          event.preventDefault();
          this.over = true;
        },
        onDragleave: () => (this.over = false),
        onDrop: (event) => {
          event.preventDefault();
          this.over = false;
          this.send([...event.dataTransfer.files]);
        },
      },
      [input, h("span", { role: "status" }, this.busy ? `${this.words?.busy || ""} ${this.busy}` : "")],
    );
  },
};
