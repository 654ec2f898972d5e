// All lines, in a list that fetches only what is in sight: by number through millions, or in an order that ranks.

import { digits, h } from "./dom.js";
import { keepButton } from "./keep-button.js";
import { onLesson } from "./kept.js";
import { LineSource } from "./line-source.js";
import { LineTools } from "./line-tools.js";
import { Player, quiet } from "./listen.js";
import { pictureWidth } from "./music.js";
import { Rows } from "./rows.js";
import { addressOf, go, state, writeAddress } from "./state.js";
import { statisticsPanel } from "./statistics.js";
import { spoken } from "./words.js";

const heights = new Map(); // of rows of each shape, once one was seen
// Pixels of a row beside its music: buttons for a finger are taller.
const BUTTONS = matchMedia("(pointer: coarse)").matches ? 70 : 58;

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
    this.source = new LineSource(tables, summary.id, order);
    const total = BigInt(summary.count);
    const most = BigInt(vocabulary.orders[order] ?? total);
    this.list = h("div.list", { role: "list", "aria-label": "Lines", onkeydown: (event) => this.key(event) });
    this.tools = new LineTools({
      length: () => this.rows.length,
      scrollTo: (place) => this.rows.scrollTo(place),
      jumpTo: (place) => this.jumpTo(place),
    });
    // A few lines come first; through millions of them nobody comes to what is below.
    const parts = order === "good" ? [this.list, statisticsPanel()] : [statisticsPanel(), this.list];
    place.replaceChildren(...this.tools.elements(), ...parts);
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
    this.source.end();
  }

  /** Bring a line into sight; it takes the focus when it is there. */
  jumpTo(place) {
    this.rows.scrollTo(place);
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
    this.tools.show(place);
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

  /** The first picture tells how tall these lines are; where that was guessed badly, all are made as tall. */
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
    this.rows.resize();
  }

  // -- one row -----------------------------------------------------------------------------------------------

  async fill(row, place) {
    try {
      const { line, length } = await this.source.at(place);
      if (!line) this.rows.shorten(length);
      if (!row.isConnected) return;
      if (!line) throw new Error("there is no line here.");
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
      const text = await this.source.picture(line, this.width, strip);
      if (!strip.isConnected) return;
      strip.show(text, line.notes);
      this.fit(strip);
    } catch (error) {
      if (!strip.isConnected) return;
      if (error.name !== "AbortError") strip.append(h("p.help", {}, error.message));
      // It was asked for by a row that went out of sight, and this one shows the same line.
      else if (!state.counting) this.draw(strip, line);
    }
  }

  link({ number, notes }, words = [h("span.no", {}, "No. "), digits(number)], spoken = `Line ${number}: ${notes}`) {
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
        this.link({ number, notes: "" }, [words(by)], `The same line, ${words(by)}: line ${number}`),
      ),
    );
  }

  open(event, number) {
    if (event.metaKey || event.ctrlKey || event.shiftKey) return;
    event.preventDefault();
    go("line", { number });
  }
}
