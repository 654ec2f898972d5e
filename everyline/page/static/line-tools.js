// Above the list of lines: its orders, how lines are shown, and ways to a place: a number, chance, the slider.

import { button, digits, h, say, select } from "./dom.js";
import { fretboardChoice } from "./fretboard.js";
import { go, state } from "./state.js";

const SLIDING = 120; // milliseconds between two moves of the list while the slider moves
const ORDERS = [
  ["good", "Eight good lines", "much as players move, and unlike each other"],
  ["number", "By number", "numbering never changes for these rules"],
  ["smooth", "Smoothest first", "steps before leaps"],
  ["varied", "Varied", "the least strange, and unlike the ones before"],
];
const STAVES = [
  ["auto", "automatic (by instrument)"],
  ["staff", "staff"],
  ["tab", "tablature"],
  ["both", "staff and tablature"],
];

/** `length()` is how many rows the list has; `scrollTo(place)` brings one into sight, `jumpTo(place)` also puts the
 *  focus on it. */
export class LineTools {
  constructor({ length, scrollTo, jumpTo }) {
    this.length = length;
    this.scrollTo = scrollTo;
    this.jumpTo = jumpTo;
    this.order = state.order;
  }

  /** What stands above the list. */
  elements() {
    if (this.order !== "good")
      return [h("div.line-tools", {}, orders(), this.jumper(), this.sliderBar()), shownAs()];
    const others = () => go("lines", { draw: String((Number(state.draw) || 1) + 1), place: "1" });
    return [h("div.line-tools", {}, orders(), h("div.row", {}, button("Eight others", others))), shownAs()];
  }

  /** Show the place that is in sight, but in a field that is being used. */
  show(place) {
    const length = this.length();
    if (this.slider && document.activeElement !== this.slider && length > 1n)
      this.slider.value = String(((place - 1n) * 1000n) / (length - 1n));
    if (this.jump && document.activeElement !== this.jump) this.jump.value = digits(place);
  }

  jumper() {
    this.jump = h("input", {
      type: "text",
      inputmode: "numeric",
      id: "jump",
      size: "9",
      autocomplete: "off",
      "data-key": "jump",
    });
    const sent = (event) => {
      event.preventDefault();
      this.sent(this.jump.value);
    };
    return h(
      "form.jump",
      { onsubmit: sent },
      h("label", { for: "jump" }, this.order === "number" ? "Line number" : "Place"),
      this.jump,
      h("button", { type: "submit" }, "Go there"),
      button("Random line", () => this.scrollTo(this.random()), { "data-key": "any" }, "button.quiet"),
    );
  }

  sliderBar() {
    this.slider = h("input", {
      type: "range",
      min: "0",
      max: "1000",
      step: "1",
      value: "0",
      "aria-label": "Place in the whole set, in thousandths",
      oninput: () => this.slid(),
    });
    return this.slider;
  }

  /** Many moves of the slider are one move of the list; the number follows at once. */
  slid() {
    const place = () => 1n + ((this.length() - 1n) * BigInt(this.slider.value)) / 1000n;
    this.jump.value = digits(place());
    this.sliding ??= setTimeout(() => {
      this.sliding = null;
      this.scrollTo(place());
    }, SLIDING);
  }

  random() {
    const length = this.length();
    const words = Math.ceil(length.toString(2).length / 32) + 1;
    let drawn = 0n;
    for (const part of crypto.getRandomValues(new Uint32Array(words))) drawn = (drawn << 32n) | BigInt(part);
    return 1n + (drawn % length);
  }

  sent(text) {
    const number = text.replace(/[\s\u202f.,']/g, "");
    if (!/^\d+$/.test(number)) {
      say(`“${text.slice(0, 40)}” is not a number; write one from 1 to ${digits(this.length())}.`);
      return;
    }
    const place = BigInt(number);
    const most = this.length();
    this.jumpTo(place < 1n ? 1n : place > most ? most : place);
  }
}

function orders() {
  const act = (order) => () => go("lines", { order, number: "1", place: "1" });
  const attributes = (order, title) => ({ "aria-pressed": String(order === state.order), title });
  return h(
    "div.tabs",
    { role: "group", "aria-label": "Order" },
    ORDERS.map(([order, words, title]) => button(words, act(order), attributes(order, title), "button.tab")),
  );
}

function shownAs() {
  const staves = select(STAVES, state.staves, (value) => go("lines", { staves: value }));
  staves.id = "staves";
  return h(
    "div.row.shown-as",
    {},
    h("div.field.inline", {}, h("label", { for: "staves" }, "Shown as"), staves),
    fretboardChoice(),
  );
}
