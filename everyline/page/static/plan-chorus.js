// One chorus of a plan: which, its music, listening, taking it away.

import { address, get, withRules } from "./api.js";
import { button, digits, h, keep, say } from "./dom.js";
import { Player, playerChoices } from "./listen.js";
import { pictureWidth } from "./music.js";
import { picture } from "./pictures.js";
import { barsOf } from "./plan-tables.js";
import { state } from "./state.js";
import { statisticsPanel } from "./statistics.js";

const FORMS = [
  ["pdf", "PDF to print"],
  ["musicxml", "MusicXML"],
  ["mid", "MIDI"],
  ["wav", "Sound (WAV)"],
];

/** A whole number from 1 to a count of any size, drawn by chance. */
function anyOf(count) {
  const words = new Uint32Array(Math.ceil(count.toString(2).length / 32) + 1);
  let drawn = 0n;
  for (const part of crypto.getRandomValues(words)) drawn = (drawn << 32n) | BigInt(part);
  return 1n + (drawn % count);
}

export class ChorusPart {
  constructor() {
    this.body = h("div.chorus");
    this.player = null;
    this.turn = 0;
  }

  leave() {
    this.turn += 1;
    this.player?.stop();
    this.player = null;
  }

  /** Show a chorus of this plan; nothing while it has none. */
  take(plan, found) {
    this.leave();
    this.plan = plan;
    this.id = found?.id;
    this.total = found?.count ? BigInt(found.count) : 0n;
    if (!this.total) return this.body.replaceChildren();
    const of = { tables: plan, id: this.id, count: found.count };
    this.statistics = statisticsPanel("Statistics of these choruses", of);
    this.show("smooth");
  }

  lines(query) {
    return withRules(this.plan, this.id, (id) => get(address(`/api/rules/${id}/lines`, query)));
  }

  async show(which) {
    this.leave();
    const mine = this.turn;
    const query =
      which === "smooth"
        ? { from: 1, most: 1, order: "smooth" }
        : { from: anyOf(this.total), most: 1, order: "number" };
    try {
      const { lines } = await this.lines(query);
      if (mine === this.turn) this.draw(lines[0]);
    } catch (error) {
      if (mine === this.turn && error.name !== "AbortError")
        this.body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
    }
  }

  draw(line) {
    const strip = h("music-strip.large");
    this.player = new Player(this.plan, this.id, line.number, (index) => strip.light(index));
    const guide = this.plan.phrase
      .map((each, place) => `${each.name || place + 1} from bar ${barsOf(each)[0]}`)
      .join(", ");
    this.body.replaceChildren(
      h(
        "h3",
        {},
        `Chorus no. ${digits(line.number)}`,
        h("span.help", {}, ` roughness ${line.roughness} · ${guide}`),
      ),
      h(
        "div.row",
        {},
        button("Another one", () => this.show("any"), { "data-key": "chorus any" }),
        button("The smoothest", () => this.show("smooth"), {}, "button.quiet"),
      ),
      strip,
      this.player.controls(),
      h(
        "div.row",
        {},
        FORMS.map(([form, words]) =>
          button(words, () => this.download(line.number, form), { "data-form": form }),
        ),
      ),
      this.statistics,
    );
    const width = pictureWidth(this.body.clientWidth, 4);
    picture(this.plan, this.id, line.number, state.staves, width, strip).then(
      (text) => strip.isConnected && strip.show(text, `Chorus ${line.number}: ${line.notes}`),
      (error) => error.name !== "AbortError" && strip.replaceWith(h("p.help", {}, error.message)),
    );
  }

  async download(number, form) {
    try {
      const query = { ...playerChoices(), staves: state.staves, fretboard: state.fretboard };
      const blob = await withRules(this.plan, this.id, async (id) => {
        const answer = await fetch(address(`/api/rules/${id}/lines/${number}/take/${form}`, query));
        if (answer.ok) return answer.blob();
        throw Object.assign(new Error((await answer.json()).error), { status: answer.status });
      });
      keep(blob, `chorus-${String(number).slice(0, 40)}.${form}`);
    } catch (error) {
      say(error.message);
    }
  }
}
