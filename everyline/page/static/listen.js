// Listening to a line: sound made by the server, notes lit by the same timing that the sound was made from.

import { address, get, getHead, withRules } from "./api.js";
import { button, field, h, say, select } from "./dom.js";
import { keepHere, kept, state } from "./store.js";
import { beatAt, noteAt, secondsAt, within } from "./timing.js";

const SLOWEST = 30;
const FASTEST = 400;
const SWINGS = [
  ["by-tempo", "by tempo"],
  ["straight", "straight"],
  ["1.5:1", "light, 1.5 to 1"],
  ["2:1", "triplets, 2 to 1"],
  ["3:1", "hard, 3 to 1"],
];
const COUNTS = [
  ["0", "none"],
  ["1", "one bar"],
  ["2", "two bars"],
];
const VOICES = ["line", "chords", "bass", "click"];

/** Take over how this browser listened last. */
export function setUpListening() {
  const found = kept("listening") ?? {};
  const { tempo, swing, count_in, loop, mute } = found;
  const fits = {
    tempo: within(tempo, SLOWEST, FASTEST, state.listening.tempo),
    swing: SWINGS.some(([each]) => each === swing) ? swing : undefined,
    count_in: COUNTS.some(([each]) => each === String(count_in)) ? count_in : undefined,
    loop: typeof loop === "boolean" ? loop : undefined,
    mute: Array.isArray(mute) ? mute.filter((each) => VOICES.includes(each)) : undefined,
  };
  for (const [name, value] of Object.entries(fits)) if (value !== undefined) state.listening[name] = value;
}

/** Silence, whoever plays. */
export const quiet = () => playing.player?.stop();

/** What the player is set to, as the interface takes it. */
export const playerChoices = () => {
  const { tempo, swing, count_in, mute } = state.listening;
  return { tempo, swing, count_in, mute };
};

const playing = { player: null }; // one at a time

/** Plays one line; ``light(index or null)`` is told which note sounds. */
export class Player {
  /** ``id`` is the name of the rules, or what finds it. */
  constructor(tables, id, number, light) {
    this.tables = tables;
    this.id = id;
    this.number = number;
    this.light = light;
    this.lit = null;
    this.audio = new Audio();
    this.audio.preload = "none";
    this.audio.volume = 0.8;
    this.playing = false;
    this.turn = 0;
    this.audio.addEventListener("ended", () => this.stop());
  }

  /** The button that starts and stops. */
  starter(words, attributes = {}) {
    this.words = words;
    const acts = { onpointerenter: () => this.ready(), onfocus: () => this.ready() };
    this.go = button(words, () => this.toggle(), { ...attributes, ...acts }, "button.strong.starter");
    return this.go;
  }

  toggle() {
    if (this.playing) this.stop();
    else this.start();
  }

  controls() {
    this.starter("Listen", { id: "listen" });
    const tempo = h("input", {
      type: "number",
      min: SLOWEST,
      max: FASTEST,
      step: "1",
      value: state.listening.tempo,
    });
    tempo.addEventListener("change", () => {
      // What is shown is what is played.
      tempo.value = within(
        tempo.value === "" ? NaN : Number(tempo.value),
        SLOWEST,
        FASTEST,
        state.listening.tempo,
      );
      this.set("tempo", Number(tempo.value));
    });
    const swing = select(SWINGS, state.listening.swing, (value) => this.set("swing", value));
    const count = select(COUNTS, state.listening.count_in, (value) => this.set("count_in", Number(value)));
    return h(
      "section.player",
      { "aria-label": "Listen" },
      this.audio,
      this.go,
      field("Tempo", tempo),
      field("Swing", swing),
      field("Count-in", count),
      this.voices(),
      h("p.help.care", {}, CARE),
    );
  }

  voices() {
    const tick = (words, there, set) =>
      h(
        "label.tick",
        {},
        h("input", { type: "checkbox", checked: there, onchange: (event) => set(event.target.checked) }),
        words,
      );
    const voice = (name) =>
      tick(name[0].toUpperCase() + name.slice(1), !state.listening.mute.includes(name), (there) => {
        const others = state.listening.mute.filter((each) => each !== name);
        this.set("mute", there ? others : [...others, name]);
      });
    const loop = tick("Loop", state.listening.loop, (there) => this.set("loop", there));
    return h("div.ticks", { role: "group", "aria-label": "What sounds" }, VOICES.map(voice), loop);
  }

  set(name, value) {
    state.listening[name] = value;
    keepHere("listening", state.listening);
    if (name !== "loop" && this.playing) this.start(beatAt(this.timing, this.audio.currentTime));
  }

  /** Have the sound made before it is asked for: whoever reaches for the button will want it. */
  async ready() {
    const query = JSON.stringify(playerChoices());
    if (this.playing || this.made === query) return;
    this.made = query;
    try {
      const path = (id) => address(`/api/rules/${id}/lines/${this.number}/sound.wav`, playerChoices());
      await withRules(this.tables, await this.rules(), (id) => getHead(path(id)));
    } catch {
      this.made = null;
    }
  }

  /** Play, from the count-in or from a beat of the bars. */
  async start(from = null) {
    if (playing.player !== this) playing.player?.stop();
    playing.player = this;
    this.go.textContent = "Making the sound…";
    const turn = (this.turn += 1);
    try {
      await this.load(turn, from);
      if (turn !== this.turn) return;
      await this.audio.play();
    } catch (error) {
      if (turn !== this.turn) return;
      this.go.textContent = this.words;
      say(await this.reason(error));
      return;
    }
    this.playing = true;
    this.go.textContent = "Stop";
    this.follow(turn);
  }

  rules() {
    return typeof this.id === "function" ? this.id() : this.id;
  }

  async load(turn, from) {
    const query = playerChoices();
    const [timing, id] = await withRules(this.tables, await this.rules(), async (id) => [
      await get(address(`/api/rules/${id}/lines/${this.number}/timing`, query)),
      id,
    ]);
    if (turn !== this.turn) return;
    this.timing = timing;
    this.audio.src = address(`/api/rules/${id}/lines/${this.number}/sound.wav`, query);
    if (from !== null) this.audio.currentTime = secondsAt(timing, from);
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

  follow(turn) {
    if (!this.playing || turn !== this.turn) return;
    const now = this.audio.currentTime;
    if (state.listening.loop && now >= this.timing.seconds - 0.02)
      this.audio.currentTime = this.timing.bars_start;
    const index = noteAt(this.timing, now);
    if (index !== this.lit) this.light((this.lit = index));
    requestAnimationFrame(() => this.follow(turn));
  }

  stop() {
    this.turn += 1;
    this.playing = false;
    this.audio.pause();
    this.lit = null;
    this.light(null);
    if (this.go) this.go.textContent = this.words;
  }
}

const CARE =
  "Begin softly and keep the sound low; rest when hands or ears tire, and ask a doctor or teacher if something hurts.";
