// All lines, in a list that fetches only what is in sight: by number through millions, or in an order that ranks.

import { address, get, withRules } from "./api.js";
import { button, digits, h, say, select } from "./dom.js";
import { fretboardChoice } from "./fretboard.js";
import { keepButton } from "./keep-button.js";
import { onLesson } from "./kept.js";
import { Player, quiet } from "./listen.js";
import { Memory } from "./memory.js";
import { pictureWidth } from "./music.js";
import { picture } from "./pictures.js";
import { Rows } from "./rows.js";
import { addressOf, go, state, writeAddress } from "./state.js";
import { statisticsPanel } from "./statistics.js";
import { spoken } from "./words.js";

const heights = new Map(); // of rows of each shape, once one was seen
const CHUNK = 12n;
const SLIDING = 120; // milliseconds between two moves of the list while the slider moves
const BUTTONS = 58; // pixels of a row beside its music
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

/** The page of lines; answers what to do when it is left. */
export function showLines(place) {
  const view = new Lines(place);
  return () => view.leave();
}

class Lines {
  constructor(place) {
    const { summary, order, tables, vocabulary } = state;
    this.order = order;
    this.tables = tables;
    this.id = summary.id;
    this.round = new AbortController();
    this.chunks = new Memory(80);
    const total = BigInt(summary.count);
    const most = BigInt(vocabulary.orders[order] ?? total);
    this.list = h("div.list", { role: "list", "aria-label": "Lines", onkeydown: (event) => this.key(event) });
    const tools = this.tools();
    // A few lines come first; through millions of them nobody comes to what is below.
    const parts = order === "good" ? [this.list, statisticsPanel()] : [statisticsPanel(), this.list];
    place.replaceChildren(...tools, ...parts);
    this.tall = 0;
    this.awaited = null; // a place that was asked for, until its row is there
    this.width = this.musicWidth();
    this.rows = new Rows({
      list: this.list,
      length: total < most ? total : most,
      fill: (row, place) => this.fill(row, place),
      height: () => this.rowHeight(),
      headRoom: () => this.headRoom(),
      seen: (place) => this.seen(place),
    });
    this.watch = new ResizeObserver(() => this.resized());
    this.watch.observe(this.list);
    this.forget = onLesson(() => this.list.querySelectorAll(".keep").forEach((each) => each.update()));
    this.start();
  }

  /** Go where the reader was, or to the top. */
  start() {
    const wanted = BigInt(/^\d+$/.test(this.here()) ? this.here() : "1");
    const place = wanted > this.rows.length ? this.rows.length : wanted;
    if (place > 1n) this.rows.scrollTo(place);
    else this.rows.draw();
  }

  /** The place in this order. */
  here() {
    return this.order === "number" ? state.number : state.place;
  }

  leave() {
    this.rows.end();
    this.watch.disconnect();
    this.forget();
    clearTimeout(this.noting);
    quiet();
    this.round.abort();
  }

  // -- order, jump, the slider -------------------------------------------------------------------------------

  tools() {
    const staves = select(STAVES, state.staves, (value) => go("lines", { staves: value }));
    staves.id = "staves";
    const shown = h(
      "div.row.shown-as",
      {},
      h("div.field.inline", {}, h("label", { for: "staves" }, "Shown as"), staves),
      fretboardChoice(),
    );
    if (this.order !== "good")
      return [h("div.line-tools", {}, this.orders(), this.jumper(), this.sliderBar()), shown];
    const others = () => go("lines", { draw: String((Number(state.draw) || 1) + 1), place: "1" });
    return [h("div.line-tools", {}, this.orders(), h("div.row", {}, button("Eight others", others)), shown)];
  }

  orders() {
    return h(
      "div.tabs",
      { role: "group", "aria-label": "Order" },
      ORDERS.map(([order, words, title]) =>
        button(
          words,
          () => go("lines", { order, number: "1", place: "1" }),
          { "aria-pressed": String(order === state.order), title },
          "button.tab",
        ),
      ),
    );
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
      this.jumpTo(this.jump.value);
    };
    return h(
      "form.jump",
      { onsubmit: sent },
      h("label", { for: "jump" }, this.order === "number" ? "Line number" : "Place"),
      this.jump,
      h("button", { type: "submit" }, "Go there"),
      button("Random line", () => this.rows.scrollTo(this.random()), { "data-key": "any" }, "button.quiet"),
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
    const place = () => 1n + ((this.rows.length - 1n) * BigInt(this.slider.value)) / 1000n;
    this.jump.value = digits(place());
    this.sliding ??= setTimeout(() => {
      this.sliding = null;
      this.rows.scrollTo(place());
    }, SLIDING);
  }

  random() {
    const { length } = this.rows;
    const words = Math.ceil(length.toString(2).length / 32) + 1;
    let drawn = 0n;
    for (const part of crypto.getRandomValues(new Uint32Array(words))) drawn = (drawn << 32n) | BigInt(part);
    return 1n + (drawn % length);
  }

  jumpTo(text) {
    const number = text.replace(/[\s\u202f.,']/g, "");
    if (!/^\d+$/.test(number)) {
      say(`“${text.slice(0, 40)}” is not a number; write one from 1 to ${digits(this.rows.length)}.`);
      return;
    }
    let place = BigInt(number);
    if (place < 1n) place = 1n;
    if (place > this.rows.length) place = this.rows.length;
    this.rows.scrollTo(place);
    // The row may not be there yet: it takes the focus when it is.
    this.awaited = place;
    this.focus(place);
  }

  focus(place) {
    const link = this.rows.row(place)?.querySelector("a");
    link?.focus({ preventScroll: true });
    if (link) this.awaited = null;
  }

  headRoom() {
    const tools = document.querySelector(".line-tools");
    const covers = (each) => (getComputedStyle(each).position === "sticky" ? each.offsetHeight : 0);
    return covers(document.querySelector(".tally")) + covers(tools) + 8;
  }

  /** Note the first line in sight: in the tools, and a little later in the address. */
  seen(place) {
    const { length } = this.rows;
    if (this.slider && document.activeElement !== this.slider && length > 1n)
      this.slider.value = String(((place - 1n) * 1000n) / (length - 1n));
    if (this.jump && document.activeElement !== this.jump) this.jump.value = digits(place);
    if (this.order === "number") state.number = String(place);
    else state.place = String(place);
    clearTimeout(this.noting);
    this.noting = setTimeout(() => writeAddress(true), 400);
  }

  /** Up and down from line to line; Space plays the one that has the focus. */
  key(event) {
    const row = event.target.closest(".strip");
    if (!row || event.target.matches("input")) return;
    if (event.key === " " && event.target.matches("a")) row.querySelector(".starter")?.click();
    else if (event.key === "ArrowDown" || event.key === "ArrowUp")
      this.step(row, event.key === "ArrowDown" ? 1n : -1n);
    else return;
    event.preventDefault();
  }

  step(row, by) {
    const found = [...this.rows.rows].find(([, each]) => each === row);
    const place = BigInt(found?.[0] ?? 1) + by;
    if (place < 1n || place > this.rows.length) return;
    this.focus(place);
    const box = this.rows.row(place)?.getBoundingClientRect();
    if (!box) this.awaited = place;
    if (box && (box.top < this.headRoom() || box.bottom > innerHeight)) this.rows.scrollTo(place);
  }

  // -- how tall rows are -------------------------------------------------------------------------------------

  musicWidth() {
    return pictureWidth(this.list.clientWidth - 24, state.summary.bars);
  }

  /** Lay the rows out anew; the one that had the focus takes it again when it is there. */
  relay() {
    const held = this.rows.focused();
    this.rows.relay();
    if (held === null) return;
    this.awaited = held;
    this.focus(held);
  }

  /** What the height of a row goes by. */
  shape() {
    return JSON.stringify([
      this.width,
      state.staves,
      state.fretboard,
      state.summary.bars,
      state.summary.instrument,
    ]);
  }

  /** A guess, until the first picture tells. */
  rowHeight() {
    this.tall ||= heights.get(this.shape()) ?? 0;
    if (this.tall) return this.tall;
    const { summary, staves, vocabulary } = state;
    const fretted = vocabulary.instruments.find((each) => each.name === summary.instrument)?.frets;
    const tab = staves === "both" || staves === "tab" || (staves === "auto" && fretted);
    const perSystem = Math.max(1, Math.floor((this.width - 18) / 44));
    const systems = Math.ceil(summary.bars / perSystem);
    const pixels = Math.min(this.list.clientWidth - 24, this.width * 5.2);
    this.tall = Math.round(systems * (tab ? 43 : 25) * (pixels / this.width)) + BUTTONS;
    return this.tall;
  }

  resized() {
    const wide = this.list.clientWidth;
    if (Math.abs(wide - (this.seenWidth ?? wide)) > 8) {
      this.width = this.musicWidth();
      this.tall = 0;
      this.relay();
    }
    this.seenWidth = wide;
  }

  /** The first picture tells how tall these lines are; where that was guessed badly, lay the rows anew. */
  fit(strip) {
    // With a fretboard below some lines are taller than others: the rows grow, so that none is drawn smaller.
    const isFirst = this.fitted !== this.width;
    if (!isFirst && state.fretboard === "none") return;
    this.fitted = this.width;
    const { width, height } = strip.shadowRoot.querySelector("svg").viewBox.baseVal;
    const pixels = Math.min(strip.clientWidth, this.width * 5.2);
    const wanted = Math.round((height / width) * pixels * 1.08) + BUTTONS;
    const grown = wanted - this.tall;
    if (grown < 0.12 * this.tall && (!isFirst || -grown < 0.12 * this.tall)) return;
    this.tall = wanted;
    heights.set(this.shape(), wanted);
    this.relay();
  }

  // -- one row -----------------------------------------------------------------------------------------------

  async fill(row, place) {
    try {
      const line = await this.line(place);
      if (!row.isConnected) return;
      this.show(row, line);
      if (this.awaited === place) this.focus(place);
    } catch (error) {
      if (error.name !== "AbortError" && row.isConnected)
        row.replaceChildren(h("p.trouble", {}, error.message));
    }
  }

  show(row, line) {
    const { tables, id } = this;
    const strip = h("music-strip", {}, h("p.notes", {}, line.notes));
    const player = new Player(tables, id, line.number, (index) => strip.light(index));
    row.replaceChildren(
      h(
        "header",
        {},
        this.link(line),
        player.starter("Play", { "aria-label": `Play line ${line.number}` }),
        h("span.facts", {}, line.ending === "plain" ? "plain ending" : spoken(line.ending)),
        this.copies(line),
        keepButton(tables, line),
      ),
      strip,
    );
    strip.addEventListener("click", (event) => this.open(event, line.number));
    this.draw(strip, line);
  }

  async draw(strip, line) {
    try {
      const text = await picture(this.tables, this.id, line.number, state.staves, this.width);
      if (!strip.isConnected) return;
      strip.show(text, line.notes);
      this.fit(strip);
    } catch (error) {
      if (strip.isConnected && error.name !== "AbortError") strip.append(h("p.help", {}, error.message));
    }
  }

  link({ number, notes }, words = `No. ${digits(number)}`, spoken = `Line ${number}: ${notes}`) {
    const href = addressOf("line", { number });
    return h(
      "a.number",
      {
        href,
        onclick: (event) => this.open(event, number),
        "aria-label": spoken,
        "data-key": `open ${number}`,
      },
      words,
    );
  }

  /** The same line in other octaves, where the order shows one of them for all. */
  copies({ octaves = [] }) {
    if (!octaves.length) return null;
    const words = (by) =>
      `${Math.abs(by) > 1 ? `${Math.abs(by)} octaves` : "octave"} ${by > 0 ? "up" : "down"}`;
    return h(
      "span.copies",
      {},
      octaves.map(({ number, octaves: by }) =>
        this.link({ number, notes: "" }, words(by), `The same line, ${words(by)}: line ${number}`),
      ),
    );
  }

  open(event, number) {
    if (event.metaKey || event.ctrlKey || event.shiftKey) return;
    event.preventDefault();
    go("line", { number });
  }

  async line(place) {
    const found = await this.chunk((place - 1n) / CHUNK);
    const line = found.lines[Number((place - 1n) % CHUNK)];
    if (!line) {
      this.rows.shorten(BigInt(found.length));
      throw new Error("there is no line here.");
    }
    return line;
  }

  chunk(chunk) {
    const draw = this.order === "good" ? state.draw : null;
    const query = { from: chunk * CHUNK + 1n, most: CHUNK, order: this.order, draw };
    return this.chunks.get(String(chunk), () =>
      withRules(this.tables, this.id, (id) =>
        get(address(`/api/rules/${id}/lines`, query), this.round.signal),
      ),
    );
  }
}
