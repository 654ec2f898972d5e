// All lines, in a list that fetches only what is in sight: by number through millions, or ranked.

import { address, get, withRules } from "./api.js";
import { button, digits, h } from "./dom.js";
import { facetsPanel } from "./statistics.js";
import { addLine, isKept } from "./lesson.js";
import { fretboardChoice } from "./fretboard.js";
import { Player, quiet } from "./listen.js";
import "./music.js";
import { pictureWidth } from "./music.js";
import { addressOf, go, on, state, untilChanged } from "./state.js";

const CHUNK = 12n;
const SPAN = 4000n; // lines that the page can be scrolled through before it is laid anew around the place
const AHEAD = 2; // rows drawn beyond what is in sight, on either side
const ORDERS = [
  ["good", "Eight good lines", "much as players move, and unlike each other"],
  ["number", "By number", "numbering never changes for these rules"],
  ["smooth", "Smoothest first", "steps before leaps"],
  ["varied", "Varied", "smooth, and unlike the ones before"],
];

const places = new Map(); // where the reader was in the orders that rank

const pictures = new Map();
/** The picture of a line at a width, asked once. */
export function picture(tables, id, number, staves, width) {
  const { fretboard } = state;
  const key = `${id} ${number} ${staves} ${width} ${fretboard}`;
  if (!pictures.has(key)) {
    const asked = withRules(tables, id, (known) =>
      fetchPicture(address(`/api/rules/${known}/lines/${number}/picture`, { staves, width, fretboard })),
    );
    pictures.set(key, asked);
    asked.catch(() => pictures.delete(key));
    if (pictures.size > 400) pictures.delete(pictures.keys().next().value);
  }
  return pictures.get(key);
}

let drawing = 0;
let queue = [];
on("busy", () => {
  queue.forEach(({ reject }) => reject(outOfSight()));
  queue = [];
});
const outOfSight = () => new DOMException("out of sight", "AbortError");

/** Two pictures at a time, what was asked last first: that is what is in sight. */
function fetchPicture(path) {
  return new Promise((resolve, reject) => {
    queue.push({ path, resolve, reject });
    pump();
  });
}

async function pump() {
  if (drawing >= 2 || !queue.length) return;
  drawing += 1;
  const { path, resolve, reject } = queue.pop();
  while (queue.length > 40) queue.shift().reject(outOfSight());
  try {
    resolve((await get(path, untilChanged())).picture);
  } catch (error) {
    reject(error);
  }
  drawing -= 1;
  pump();
}

/** The page of lines; answers what to do when it is left. */
export function showLines(place) {
  return new Lines(place).leave;
}

class Lines {
  constructor(place) {
    const { summary } = state;
    this.id = summary.id;
    this.tables = state.tables;
    this.order = state.order;
    this.round = new AbortController();
    this.chunks = new Map();
    this.rows = new Map();
    this.total = BigInt(summary.count);
    const most = BigInt(state.vocabulary.orders[state.order] ?? this.total);
    this.length = this.total < most ? this.total : most;
    this.height = 0;
    this.list = h("div.list", { role: "list", "aria-label": "Lines" });
    const parts = [this.tools(), facetsPanel(), this.list];
    // A few lines come first; through millions of them nobody comes to what is below.
    place.replaceChildren(...(state.order === "good" ? [parts[0], this.list, parts[1]] : parts));
    const start = BigInt(/^\d+$/.test(state.number) ? state.number : "1");
    this.width = pictureWidth(this.list.clientWidth - 24, summary.bars);
    this.layAround(state.order === "number" ? start : 1n);
    const seen = places.get(this.name());
    this.scrolled = () => this.frame ?? (this.frame = requestAnimationFrame(() => this.draw()));
    addEventListener("scroll", this.scrolled, { passive: true });
    this.watch = new ResizeObserver(() => this.resized());
    this.watch.observe(this.list);
    this.leave = () => {
      removeEventListener("scroll", this.scrolled);
      this.watch.disconnect();
      quiet();
      if (this.order !== "number") places.set(this.name(), this.first);
      this.round.abort();
    };
    const back = state.order === "number" ? start : (seen ?? 1n);
    if (back > 1n && back <= this.length) this.scrollTo(back);
    else this.draw();
  }

  /** Under which the place in an order is kept. */
  name() {
    return `${this.id} ${this.order}`;
  }

  // -- order, jump, the slider -------------------------------------------------------------------------------

  tools() {
    const orders = h(
      "div.tabs",
      { role: "group", "aria-label": "Order" },
      ORDERS.map(([order, words, title]) =>
        button(
          words,
          () => (places.clear(), go("lines", { order, number: "1" })),
          { "aria-pressed": String(order === state.order), title },
          "button.tab",
        ),
      ),
    );
    this.jump = h("input", {
      type: "text",
      inputmode: "numeric",
      id: "jump",
      size: "9",
      autocomplete: "off",
      "data-key": "jump",
    });
    const form = h(
      "form.jump",
      {
        onsubmit: (event) => {
          event.preventDefault();
          this.jumpTo(this.jump.value);
        },
      },
      h("label", { for: "jump" }, state.order === "number" ? "Line number" : "Place"),
      this.jump,
      h("button", { type: "submit" }, "Go there"),
      button(
        "Any line",
        () => this.jumpTo(String(this.any())),
        { "data-key": "any", title: "a line drawn by chance" },
        "button.quiet",
      ),
    );
    this.slider = h("input", {
      type: "range",
      min: "0",
      max: "1000",
      step: "1",
      value: "0",
      "aria-label": "Place in the whole set, in thousandths",
      oninput: () =>
        this.jumpTo(String(1n + ((this.length - 1n) * BigInt(this.slider.value)) / 1000n), false),
    });
    const staves = h(
      "select",
      { id: "staves", onchange: () => go("lines", { staves: staves.value }) },
      [
        ["auto", "as the instrument has it"],
        ["staff", "staff"],
        ["tab", "tablature"],
        ["both", "staff and tablature"],
      ].map(([value, text]) => h("option", { value }, text)),
    );
    staves.value = state.staves;
    const shown = [
      h("div.field.inline", {}, h("label", { for: "staves" }, "Shown as"), staves),
      fretboardChoice(),
    ];
    if (state.order !== "good") return h("div.line-tools", {}, orders, form, shown, this.slider);
    const rules = button(
      "Rules",
      () => document.getElementById("rules").scrollIntoView(),
      {},
      "button.quiet.to-rules",
    );
    return h(
      "div.line-tools",
      {},
      orders,
      h(
        "div.row",
        {},
        button("Eight others", () => go("lines", { draw: String((Number(state.draw) || 1) + 1) })),
        rules,
      ),
      shown,
    );
  }

  any() {
    let drawn = 0n;
    for (const part of crypto.getRandomValues(
      new Uint32Array(Math.ceil(this.length.toString(2).length / 32) + 1),
    ))
      drawn = (drawn << 32n) | BigInt(part);
    return 1n + (drawn % this.length);
  }

  jumpTo(text, focus = true) {
    const digitsOnly = text.replace(/[\s\u202f.,']/g, "");
    let place = /^\d+$/.test(digitsOnly) ? BigInt(digitsOnly) : 1n;
    if (place < 1n) place = 1n;
    if (place > this.length) place = this.length;
    this.scrollTo(place);
    if (focus)
      requestAnimationFrame(() =>
        this.rows.get(String(place))?.querySelector("a")?.focus({ preventScroll: true }),
      );
  }

  scrollTo(place) {
    if (place < this.base || place >= this.base + this.span) this.layAround(place);
    const top = this.list.getBoundingClientRect().top + scrollY;
    scrollTo(0, top + Number(place - this.base) * this.rowHeight() - this.headRoom());
    this.draw();
  }

  headRoom() {
    const tools = document.querySelector(".line-tools");
    return (
      document.querySelector(".tally").offsetHeight +
      (getComputedStyle(tools).position === "sticky" ? tools.offsetHeight : 0) +
      8
    );
  }

  // -- which rows there are ----------------------------------------------------------------------------------

  layAround(place) {
    const before = SPAN / 2n;
    let base = place - before;
    if (base + SPAN > this.length + 1n) base = this.length + 1n - SPAN;
    if (base < 1n) base = 1n;
    this.base = base;
    this.span = this.length - base + 1n < SPAN ? this.length - base + 1n : SPAN;
    this.rows.clear();
    this.list.replaceChildren();
    this.list.style.height = `${Number(this.span) * this.rowHeight()}px`;
  }

  rowHeight() {
    if (this.height) return this.height;
    const tab =
      state.staves === "both" ||
      state.staves === "tab" ||
      (state.staves === "auto" &&
        state.vocabulary.instruments.find((each) => each.name === state.summary.instrument)?.frets);
    const perSystem = Math.max(1, Math.floor((this.width - 18) / 44));
    const systems = Math.ceil(state.summary.bars / perSystem);
    const pixels = Math.min(this.list.clientWidth - 24, this.width * 5.2);
    this.height = Math.round(systems * (tab ? 43 : 25) * (pixels / this.width)) + 58;
    return this.height;
  }

  resized() {
    const width = pictureWidth(this.list.clientWidth - 24, state.summary.bars);
    if (Math.abs(this.list.clientWidth - (this.seenWidth ?? this.list.clientWidth)) > 8) {
      const first = this.first ?? this.base;
      this.width = width;
      this.height = 0;
      this.layAround(first);
      this.scrollTo(first);
    }
    this.seenWidth = this.list.clientWidth;
  }

  draw() {
    this.frame = null;
    if (!this.list.isConnected) return;
    const top = this.list.getBoundingClientRect().top;
    const height = this.rowHeight();
    const from = Math.max(0, Math.floor(-top / height) - AHEAD);
    const to = Math.min(Number(this.span) - 1, Math.ceil((innerHeight - top) / height) + AHEAD);
    // Above the list, where nobody comes but by a leap to the top: the place stays as it was.
    const above = top > this.headRoom() && this.base > 1n;
    if (!above || this.first === undefined)
      this.first = this.base + BigInt(Math.max(0, Math.floor((this.headRoom() - top + 2) / height)));
    // Near an edge of what is laid out, and more lines beyond it: lay anew around this place.
    const edge = Number(this.span) - 40;
    if ((from < 40 && this.base > 1n && !above) || (to > edge && this.base + this.span <= this.length)) {
      const place = this.first;
      const offset = top + Number(place - this.base) * height;
      this.layAround(place);
      const now = this.list.getBoundingClientRect().top + Number(place - this.base) * height;
      scrollBy(0, now - offset);
      return this.draw();
    }
    const wanted = new Set();
    for (let index = from; index <= to; index += 1) wanted.add(String(this.base + BigInt(index)));
    for (const [key, row] of this.rows)
      if (!wanted.has(key) && !row.contains(document.activeElement)) {
        row.remove();
        this.rows.delete(key);
      }
    for (const key of wanted) if (!this.rows.has(key)) this.addRow(key);
    if (document.activeElement !== this.slider && this.length > 1n)
      this.slider.value = String(((this.first - 1n) * 1000n) / (this.length - 1n));
    if (document.activeElement !== this.jump) this.jump.value = digits(this.first);
    if (state.order === "number" && !above) {
      state.number = String(this.first);
      clearTimeout(this.noting);
      this.noting = setTimeout(() => history.replaceState(null, "", addressOf()), 400);
    }
  }

  // -- one row -----------------------------------------------------------------------------------------------

  async addRow(key) {
    const place = BigInt(key);
    const row = h("div.strip", {
      role: "listitem",
      "aria-setsize": this.length <= 1000000n ? String(this.length) : "-1",
      "aria-posinset": key.length < 10 ? key : null,
    });
    row.style.top = `${Number(place - this.base) * this.rowHeight()}px`;
    row.style.height = `${this.rowHeight() - 10}px`;
    this.rows.set(key, row);
    // In the order of the lines, so that the Tab key goes down the page.
    const after = [...this.rows]
      .filter(([other]) => BigInt(other) > place)
      .sort((a, b) => (BigInt(a[0]) < BigInt(b[0]) ? -1 : 1))[0];
    this.list.insertBefore(row, after?.[1] ?? null);
    try {
      const line = await this.line(place);
      if (row.isConnected) this.fillRow(row, line);
    } catch (error) {
      if (error.name !== "AbortError" && row.isConnected)
        row.replaceChildren(h("p.trouble", {}, error.message));
    }
  }

  /** There are fewer lines in this order than were hoped for. */
  shorten(length) {
    if (length >= this.length) return;
    this.length = length;
    this.layAround(1n);
    this.draw();
  }

  fillRow(row, line) {
    const { tables, id } = this;
    const strip = h("music-strip");
    const kept = isKept(tables, line.number);
    const player = new Player(tables, id, line.number, (index) => strip.light(index));
    row.replaceChildren(
      h(
        "header",
        {},
        h(
          "a.number",
          {
            href: addressOf("line", { number: line.number }),
            onclick: (event) => this.open(event, line),
            "aria-label": `Line ${line.number}: ${line.notes}`,
          },
          `No. ${digits(line.number)}`,
        ),
        player.starter("Play", { "aria-label": `Play line ${line.number}` }),
        h(
          "span.facts",
          {},
          `${line.ending === "plain" ? "plain ending" : line.ending} · roughness ${line.roughness}`,
        ),
        button(
          kept ? "Kept" : "Keep",
          (event) => {
            addLine(tables, line);
            event.target.textContent = "Kept";
          },
          { "aria-label": `${kept ? "Kept" : "Keep"} line ${line.number} in the lesson` },
          "button.quiet",
        ),
      ),
      strip,
    );
    strip.addEventListener("click", (event) => this.open(event, line));
    picture(tables, id, line.number, state.staves, this.width).then(
      (text) => {
        if (!strip.isConnected) return;
        strip.show(text, line.notes);
        this.fit(strip);
      },
      (error) =>
        strip.isConnected &&
        error.name !== "AbortError" &&
        row.append(h("p.notes", {}, line.notes), h("p.help", {}, error.message)),
    );
  }

  /** The first picture tells how tall these lines are; where that was guessed badly, lay the rows anew. */
  fit(strip) {
    // With a fretboard below some lines are taller than others: the rows grow, so that none is drawn smaller.
    const isFirst = this.fitted !== this.width;
    if (!isFirst && state.fretboard === "none") return;
    this.fitted = this.width;
    const { width, height } = strip.shadowRoot.querySelector("svg").viewBox.baseVal;
    const pixels = Math.min(strip.clientWidth, this.width * 5.2);
    const wanted = Math.round((height / width) * pixels * 1.08) + 58;
    if (wanted - this.height < 0.12 * this.height && (!isFirst || this.height - wanted < 0.12 * this.height))
      return;
    const first = this.first ?? this.base;
    this.height = wanted;
    this.layAround(first);
    if (first > 1n) this.scrollTo(first);
    else this.draw();
  }

  open(event, line) {
    if (event.metaKey || event.ctrlKey || event.shiftKey) return;
    event.preventDefault();
    go("line", { number: line.number });
  }

  async line(place) {
    const chunk = (place - 1n) / CHUNK;
    if (!this.chunks.has(chunk)) {
      const query = {
        from: chunk * CHUNK + 1n,
        most: CHUNK,
        order: this.order,
        draw: this.order === "good" ? state.draw : null,
      };
      const asked = withRules(this.tables, this.id, (id) =>
        get(address(`/api/rules/${id}/lines`, query), this.round.signal),
      );
      this.chunks.set(chunk, asked);
      asked.catch(() => this.chunks.delete(chunk));
      if (this.chunks.size > 80) this.chunks.delete(this.chunks.keys().next().value);
    }
    const found = await this.chunks.get(chunk);
    const line = found.lines[Number((place - 1n) % CHUNK)];
    if (!line) this.shorten(BigInt(found.length));
    if (!line) throw new Error("there is no line here.");
    return line;
  }
}
