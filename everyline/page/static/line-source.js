// Where the lines of a list come from: a dozen in one request, the next dozen before it comes into sight.

import { address, get, withRules } from "./api.js";
import { Memory } from "./memory.js";
import { picture } from "./pictures.js";
import { state } from "./state.js";

const CHUNK = 12n;

/** The lines of some rules in an order. */
export class LineSource {
  constructor(tables, id, order) {
    this.tables = tables;
    this.id = id;
    this.order = order;
    this.draw = order === "good" ? state.draw : null;
    this.round = new AbortController();
    this.chunks = new Memory(80);
  }

  /** Nobody waits for lines any more. */
  end() {
    this.round.abort();
  }

  /** The line at a place, or null, and how many there are. */
  async at(place) {
    const [chunk, within] = [(place - 1n) / CHUNK, (place - 1n) % CHUNK];
    const { lines, length: text } = await this.chunk(chunk);
    const length = BigInt(text);
    this.ahead(within < CHUNK / 2n ? chunk - 1n : chunk + 1n, length);
    return { line: lines[Number(within)] ?? null, length };
  }

  /** Have a dozen that may be scrolled to. Whoever comes there is told of errors. */
  ahead(chunk, length) {
    if (chunk >= 0n && chunk * CHUNK < length) this.chunk(chunk).catch(() => {});
  }

  chunk(chunk) {
    const query = { from: chunk * CHUNK + 1n, most: CHUNK, order: this.order, draw: this.draw };
    return this.chunks.get(String(chunk), () =>
      withRules(this.tables, this.id, (id) =>
        get(address(`/api/rules/${id}/lines`, query), this.round.signal),
      ),
    );
  }

  /** The picture of a line at a width, for a place on the page. */
  picture({ number }, width, place) {
    return picture(this.tables, this.id, number, state.staves, width, place);
  }
}
