export default {
  template: `<svg width="40" height="40" style="border: 1px solid" @click="$emit('poke')"><circle r="9" cx="20" cy="20" /></svg>`,
  methods: {
    hello(count) {
      return `hello ${count}`;
    },
  },
};
