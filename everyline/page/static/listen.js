// Listening to a line: sound made by the server, notes lit by the same timing that the sound was made from.

import { address, get, getHead, withRules } from "./api.js";
import { button, field, h, say } from "./dom.js";

const usual = { tempo: 120, swing: "by-tempo", count_in: 1, loop: false, mute: [] };
const chosen = { ...usual, ...read() };

function read() {
  try {
    return JSON.parse(localStorage.getItem("listening")) ?? {};
  } catch {
    return {};
  }
}

/** Silence, whoever plays. */
export const quiet = () => sounding?.stop();

/** What the player is set to, as the interface takes it. */
export const playerChoices = () => ({
  tempo: chosen.tempo,
  swing: chosen.swing,
  count_in: chosen.count_in,
  mute: chosen.mute,
});

let sounding = null; // the player that plays: one at a time

/** Plays one line; ``light(index or null)`` is told which note sounds. */
export class Player {
  constructor(tables, id, number, light) {
    Object.assign(this, { tables, id, number, light });
    this.audio = new Audio();
    this.audio.preload = "none";
    this.audio.volume = 0.8;
    this.playing = false;
    this.audio.addEventListener("ended", () => this.stop());
  }

  /** The button that starts and stops. */
  starter(words, attributes = {}) {
    this.words = words;
    this.go = button(
      words,
      () => (this.playing ? this.stop() : this.start()),
      { ...attributes, onpointerenter: () => this.ready(), onfocus: () => this.ready() },
      "button.strong",
    );
    return this.go;
  }

  controls() {
    this.starter("Listen", { id: "listen" });
    const tempo = h("input", {
      type: "number",
      min: "30",
      max: "400",
      step: "1",
      value: chosen.tempo,
      onchange: () => this.set("tempo", Math.min(400, Math.max(30, Math.round(Number(tempo.value)) || 120))),
    });
    const swing = h(
      "select",
      { onchange: () => this.set("swing", swing.value) },
      [
        ["by-tempo", "by tempo"],
        ["straight", "straight"],
        ["1.5:1", "light, 1.5 to 1"],
        ["2:1", "triplets, 2 to 1"],
        ["3:1", "hard, 3 to 1"],
      ].map(([value, text]) => h("option", { value }, text)),
    );
    swing.value = chosen.swing;
    const count = h(
      "select",
      { onchange: () => this.set("count_in", Number(count.value)) },
      [
        ["0", "none"],
        ["1", "one bar"],
        ["2", "two bars"],
      ].map(([value, text]) => h("option", { value }, text)),
    );
    count.value = String(chosen.count_in);
    const tick = (words, there, set) =>
      h(
        "label.tick",
        {},
        h("input", { type: "checkbox", checked: there, onchange: (event) => set(event.target.checked) }),
        words,
      );
    const part = (words, name) =>
      tick(words, !chosen.mute.includes(name), (there) =>
        this.set("mute", there ? chosen.mute.filter((each) => each !== name) : [...chosen.mute, name]),
      );
    return h(
      "section.player",
      { "aria-label": "Listen" },
      this.audio,
      this.go,
      field("Tempo", tempo),
      field("Swing", swing),
      field("Count-in", count),
      h(
        "div.ticks",
        { role: "group", "aria-label": "What sounds" },
        part("Line", "line"),
        part("Chords", "chords"),
        part("Bass", "bass"),
        part("Click", "click"),
        tick("Loop", chosen.loop, (there) => this.set("loop", there)),
      ),
      h(
        "p.help.care",
        {},
        "Begin softly and keep the sound low; rest when hands or ears tire, and ask a doctor or teacher if something hurts.",
      ),
    );
  }

  set(name, value) {
    chosen[name] = value;
    localStorage.setItem("listening", JSON.stringify(chosen));
    if (name !== "loop" && this.playing) this.start();
  }

  /** Have the sound made before it is asked for: whoever reaches for the button will want it. */
  async ready() {
    const query = JSON.stringify(playerChoices());
    if (this.playing || this.made === query) return;
    this.made = query;
    try {
      const path = (id) => address(`/api/rules/${id}/lines/${this.number}/sound.wav`, playerChoices());
      await withRules(this.tables, this.id, (id) => getHead(path(id)));
    } catch {
      this.made = null;
    }
  }

  async start() {
    sounding?.stop();
    sounding = this;
    this.go.textContent = "Making the sound…";
    const query = playerChoices();
    const turn = (this.turn = (this.turn ?? 0) + 1);
    try {
      const [timing, id] = await withRules(this.tables, this.id, async (id) => [
        await get(address(`/api/rules/${id}/lines/${this.number}/timing`, query)),
        id,
      ]);
      if (turn !== this.turn) return;
      this.timing = timing;
      this.audio.src = address(`/api/rules/${id}/lines/${this.number}/sound.wav`, query);
      await this.audio.play();
    } catch (error) {
      if (turn !== this.turn) return;
      this.go.textContent = this.words;
      say(await this.reason(error));
      return;
    }
    this.playing = true;
    this.go.textContent = "Stop";
    this.follow();
  }

  /** The audio element does not tell why a sound did not come; the server does. */
  async reason(error) {
    if (!this.audio.src || error.name === "NotAllowedError") return error.message;
    try {
      const answer = await fetch(this.audio.src);
      if (!answer.ok) return (await answer.json()).error;
    } catch {
      // The server is gone.
    }
    return "the sound cannot be played here.";
  }

  follow() {
    if (!this.playing) return;
    const now = this.audio.currentTime;
    if (chosen.loop && now >= this.timing.seconds - 0.02) this.audio.currentTime = this.timing.bars_start;
    const sounding = this.timing.notes.find((note) => note.start <= now && now < note.end);
    const index = sounding ? sounding.note : null;
    if (index !== this.lit) this.light((this.lit = index));
    requestAnimationFrame(() => this.follow());
  }

  stop() {
    this.turn = (this.turn ?? 0) + 1;
    this.playing = false;
    this.audio.pause();
    this.lit = null;
    this.light(null);
    if (this.go) this.go.textContent = this.words;
  }
}
