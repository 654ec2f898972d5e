// A list of millions of rows of which only those in sight exist. It is laid out around a place: browsers know no
// page that is long enough for all of it.

import { h } from "./dom.js";

const SPAN = 4000n; // rows that can be scrolled through before the list is laid out anew around the place
const AHEAD = 3; // rows drawn beyond what is in sight, on either side
const EDGE = 40; // rows from an end of what is laid out at which it is laid out anew
const GAP = 10; // pixels between rows

/**
 * `fill(row, place)` draws a row, `height()` is how tall one is in pixels, `headRoom()` how much of the window is
 * covered above the rows, `seen(place)` is told the first row in sight.
 */
export class Rows {
  constructor({ list, length, fill, height, headRoom, seen }) {
    this.list = list;
    this.length = length;
    this.fill = fill;
    this.height = height;
    this.headRoom = headRoom;
    this.seen = seen;
    this.rows = new Map();
    this.first = 1n;
    this.layAround(1n);
    this.moved = () => (this.frame ??= requestAnimationFrame(() => this.draw()));
    addEventListener("scroll", this.moved, { passive: true });
    // Whatever moves the list without a scroll, such as a part above it that opens or closes.
    this.watch = new ResizeObserver(this.moved);
    this.watch.observe(document.body);
  }

  end() {
    removeEventListener("scroll", this.moved);
    this.watch.disconnect();
    cancelAnimationFrame(this.frame);
  }

  /** Bring a row to the top of what is in sight. */
  scrollTo(place) {
    if (place < this.base || place >= this.base + this.span) this.layAround(place);
    const top = this.list.getBoundingClientRect().top + scrollY;
    scrollTo(0, top + Number(place - this.base) * this.height() - this.headRoom());
    this.draw();
  }

  row(place) {
    return this.rows.get(String(place));
  }

  /** The place of the row that has the focus, or null. */
  focused() {
    const found = [...this.rows].find(([, row]) => row.contains(document.activeElement));
    return found ? BigInt(found[0]) : null;
  }

  /** There are fewer rows than was thought. */
  shorten(length) {
    if (length >= this.length) return;
    this.length = length;
    this.layAround(this.first <= length ? this.first : 1n);
    this.draw();
  }

  /** Lay the rows out anew, as tall as they are now, with the same one on top. */
  relay() {
    const { first } = this;
    this.layAround(first);
    if (first > 1n) this.scrollTo(first);
    else this.draw();
  }

  /** The rows are as tall as they are now. Those that stand are moved and not made again, so that what is pressed or
   *  read in one of them stays there. */
  resize() {
    const { first } = this;
    this.list.style.height = `${Number(this.span) * this.height()}px`;
    for (const [key, row] of this.rows) this.put(row, BigInt(key));
    if (first > 1n) this.scrollTo(first);
    else this.draw();
  }

  put(row, place) {
    row.style.top = `${Number(place - this.base) * this.height()}px`;
    row.style.height = `${this.height() - GAP}px`;
  }

  layAround(place) {
    let base = place - SPAN / 2n;
    if (base + SPAN > this.length + 1n) base = this.length + 1n - SPAN;
    if (base < 1n) base = 1n;
    this.base = base;
    const left = this.length - base + 1n;
    this.span = left < SPAN ? left : SPAN;
    this.rows.clear();
    this.list.replaceChildren();
    this.list.style.height = `${Number(this.span) * this.height()}px`;
  }

  draw() {
    this.frame = undefined;
    if (!this.list.isConnected) return;
    const top = this.list.getBoundingClientRect().top;
    const height = this.height();
    const from = Math.max(0, Math.floor(-top / height) - AHEAD);
    const to = Math.min(Number(this.span) - 1, Math.ceil((innerHeight - top) / height) + AHEAD);
    // Above the list, where nobody comes but by a leap to the top: the place stays as it was.
    const above = top > this.headRoom() && this.base > 1n;
    if (!above) this.first = this.placeAt((this.headRoom() - top + 2) / height);
    const low = from < EDGE && this.base > 1n && !above;
    const high = to > Number(this.span) - EDGE && this.base + this.span <= this.length;
    if (low || high) this.moveOn(top, height);
    else {
      this.keep(from, to);
      if (!above) this.seen(this.first);
    }
  }

  placeAt(rows) {
    const place = this.base + BigInt(Math.max(0, Math.floor(rows)));
    return place > this.length ? this.length : place;
  }

  /** Near an end of what is laid out, with more beyond it: lay out anew around this place. */
  moveOn(top, height) {
    const place = this.first;
    const offset = top + Number(place - this.base) * height;
    this.layAround(place);
    const now = this.list.getBoundingClientRect().top + Number(place - this.base) * height;
    scrollBy(0, now - offset);
    this.draw();
  }

  /** Have the rows from one to another, and no other but one with the focus. */
  keep(from, to) {
    const wanted = new Set();
    for (let index = from; index <= to; index += 1) wanted.add(String(this.base + BigInt(index)));
    for (const [key, row] of this.rows) {
      if (wanted.has(key) || row.contains(document.activeElement)) continue;
      row.remove();
      this.rows.delete(key);
    }
    for (const key of wanted) if (!this.rows.has(key)) this.add(key);
  }

  add(key) {
    const place = BigInt(key);
    const row = h("div.strip", {
      role: "listitem",
      "aria-setsize": this.length <= 1000000n ? String(this.length) : "-1",
      "aria-posinset": key.length < 10 ? key : null,
    });
    this.put(row, place);
    // In the order of the lines, so that the Tab key goes down the page.
    let after = null;
    for (const [other, each] of this.rows)
      if (BigInt(other) > place && (!after || BigInt(other) < after.place))
        after = { place: BigInt(other), each };
    this.rows.set(key, row);
    this.list.insertBefore(row, after?.each ?? null);
    this.fill(row, place);
  }
}
