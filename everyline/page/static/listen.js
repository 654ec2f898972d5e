// Listening to a line: sound made by the server, notes lit by the same timing that the sound was made from.

import { address, get, getHead, withRules } from "./api.js";
import { button, field, h, say, select } from "./dom.js";
import { keepHere, kept, state } from "./store.js";
import { Loop } from "./loop.js";
import { beatAt, noteAt, noteInLoop, secondsAt, within } from "./timing.js";

const SLOWEST = 30;
const FASTEST = 400;
const SWINGS = [
  ["by-tempo", "by tempo"],
  ["straight", "straight"],
  ["1.5:1", "light, 1.5 to 1"],
  ["2:1", "triplets, 2 to 1"],
  ["3:1", "hard, 3 to 1"],
];
const FEELS = [
  ["by-meter", "by meter and tempo"],
  ["swing", "swing"],
  ["ballad", "ballad"],
  ["waltz", "waltz"],
  ["bossa", "bossa"],
  ["eighths", "eighths: 6/8, 12/8"],
  ["plain", "plain, no drums"],
];
const MOST_SEED = 2 ** 31 - 1;
const COUNTS = [
  ["0", "none"],
  ["1", "one bar"],
  ["2", "two bars"],
];
const VOICES = ["line", "chords", "bass", "drums", "click"];

/** Take over how this browser listened last. */
export function setUpListening() {
  const found = kept("listening") ?? {};
  const { tempo, swing, feel, seed, count_in, loop, mute } = found;
  const fits = {
    tempo: within(tempo, SLOWEST, FASTEST, state.listening.tempo),
    swing: SWINGS.some(([each]) => each === swing) ? swing : undefined,
    feel: FEELS.some(([each]) => each === feel) ? feel : undefined,
    seed: Number.isInteger(seed) ? within(seed, 0, MOST_SEED, null) : undefined,
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
  const { tempo, swing, feel, seed, count_in, mute } = state.listening;
  // Without a seed every line has its own: then none is sent.
  return { tempo, swing, feel, count_in, mute, ...(seed === null ? {} : { seed }) };
};

const playing = { player: null }; // one at a time

/** Plays one line; ``light(index or null)`` is told which note sounds. */
export class Player {
  /** ``id`` is the name of the rules, or what finds it; ``notes`` are those that the line was kept with. */
  constructor(tables, id, number, light, notes = null) {
    this.tables = tables;
    this.id = id;
    this.number = number;
    this.notes = notes;
    this.light = light;
    this.lit = null;
    this.audio = new Audio();
    this.audio.preload = "none";
    this.audio.volume = 0.8;
    this.loop = new Loop();
    this.looping = false;
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
      this.backing(),
      field("Count-in", count),
      this.voices(),
      h("p.help.care", {}, CARE),
    );
  }

  /** How the backing plays: its feel, and the number that draws its rhythms. */
  backing() {
    const feel = select(FEELS, state.listening.feel, (value) => this.set("feel", value));
    this.played = h("span.help", { "aria-live": "polite" });
    const seed = h("input", { type: "number", min: 0, max: MOST_SEED, step: "1", placeholder: "by line" });
    seed.value = state.listening.seed ?? "";
    seed.addEventListener("change", () => {
      const value = seed.value === "" ? null : within(Number(seed.value), 0, MOST_SEED, null);
      seed.value = value ?? "";
      this.set("seed", value);
    });
    return [field("Feel", feel), field("Backing number", seed), this.played];
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
    if (this.playing) this.start(beatAt(this.timing, this.time));
  }

  /** Have the sound made before it is asked for: whoever reaches for the button will want it. */
  async ready() {
    const query = this.query();
    const wanted = JSON.stringify(query);
    if (this.playing || this.made === wanted) return;
    this.made = wanted;
    try {
      const path = (id) => address(`/api/rules/${id}/lines/${this.number}/sound.wav`, query);
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
      if (this.looping) await this.loop.start(this.timing, from === null ? 0 : secondsAt(this.timing, from));
      else await this.audio.play();
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

  query() {
    return { ...playerChoices(), notes: this.notes };
  }

  rules() {
    return typeof this.id === "function" ? this.id() : this.id;
  }

  async load(turn, from) {
    const query = this.query();
    const [timing, id] = await withRules(this.tables, await this.rules(), async (id) => [
      await get(address(`/api/rules/${id}/lines/${this.number}/timing`, query)),
      id,
    ]);
    if (turn !== this.turn) return;
    const sound = `/api/rules/${id}/lines/${this.number}/sound.wav`;
    if (state.listening.loop) await this.loop.load(address(sound, query), address(sound, { ...query, loop: true }));
    if (turn !== this.turn) return;
    this.silence();
    this.timing = timing;
    this.looping = state.listening.loop;
    this.tellFeel(timing.feel);
    if (this.looping) return;
    this.audio.src = address(sound, query);
    if (from !== null) this.audio.currentTime = secondsAt(timing, from);
  }

  /** Say what plays where that is not what was chosen: a feel that does not go with the meter gives way. */
  tellFeel(feel) {
    if (!this.played) return;
    const chosen = state.listening.feel;
    this.played.textContent = [feel, "by-meter"].includes(chosen) ? `Plays: ${feel}` : `Plays: ${feel}, for the meter`;
  }

  /** The second that is heard now. */
  get time() {
    return this.looping ? this.loop.time : this.audio.currentTime;
  }

  silence() {
    this.audio.pause();
    this.loop.stop();
  }

  /** The audio element does not tell why a sound did not come; the server does. */
  async reason(error) {
    if (this.looping || !this.audio.src || error.name === "NotAllowedError") return error.message;
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
    const index = this.looping ? noteInLoop(this.timing, this.time) : noteAt(this.timing, this.time);
    if (index !== this.lit) this.light((this.lit = index));
    requestAnimationFrame(() => this.follow(turn));
  }

  stop() {
    this.turn += 1;
    this.playing = false;
    this.silence();
    this.lit = null;
    this.light(null);
    if (this.go) this.go.textContent = this.words;
  }
}

const CARE =
  "Begin softly and keep the sound low; rest when hands or ears tire, and ask a doctor or teacher if something hurts.";
