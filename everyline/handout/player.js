// Plays what stands in the file: notes in beats, sounded by the browser itself, at the student's own tempo.

const LINE = 0;
const CHORDS = 1;
const BASS = 2;
const DRUMS = 3;
const CLICK = 4;
const SECOND = 5;
const ASIDE = 0.15; // how far each of two players stands from the middle
const AHEAD = 0.15; // seconds

const data = JSON.parse(document.getElementById("notes").textContent);
const tempo = document.getElementById("tempo");
const loop = document.getElementById("loop");
const parts = [...document.querySelectorAll("[data-part]")];
let sound = null;
let out = null;
let playing = null;

const level = () => Number(document.getElementById("level").value) / 100;

function wake() {
  if (!sound) {
    sound = new AudioContext();
    out = sound.createGain();
    // Many notes at once stay below what hurts.
    const guard = sound.createDynamicsCompressor();
    out.connect(guard).connect(sound.destination);
  }
  out.gain.value = level();
  return sound.resume();
}

const heard = (part) => parts.find((each) => Number(each.dataset.part) === part)?.checked ?? true;
const hertz = (pitch) => 440 * 2 ** ((pitch - 69) / 12);

let sides = null;
/** Where a part comes out: the line in the middle, of two players each a little to its side. */
function side(part, two) {
  if (!two || (part !== LINE && part !== SECOND)) return out;
  if (!sides)
    sides = [-ASIDE, ASIDE].map((pan) => {
      const place = new StereoPannerNode(sound, { pan });
      place.connect(out);
      return place;
    });
  return sides[part === SECOND ? 1 : 0];
}

/** A tone that is struck and dies away. */
function struck(pitch, at, length, loud, kind, ring, into = out) {
  const voice = sound.createOscillator();
  const strength = sound.createGain();
  voice.type = kind;
  voice.frequency.value = hertz(pitch);
  strength.gain.setValueAtTime(0, at);
  strength.gain.linearRampToValueAtTime(loud, at + 0.008);
  strength.gain.exponentialRampToValueAtTime(Math.max(0.0005, loud * 0.35), at + Math.max(0.05, length));
  strength.gain.exponentialRampToValueAtTime(0.0005, at + length + ring);
  voice.connect(strength).connect(into);
  voice.start(at);
  voice.stop(at + length + ring + 0.02);
  return voice;
}

let hiss = null;
/** A short breath of noise, for cymbals and brushes. */
function rustle(at, loud, length, from) {
  if (!hiss) {
    hiss = sound.createBuffer(1, sound.sampleRate, sound.sampleRate);
    const samples = hiss.getChannelData(0);
    for (let place = 0; place < samples.length; place += 1) samples[place] = Math.random() * 2 - 1;
  }
  const source = sound.createBufferSource();
  const filter = sound.createBiquadFilter();
  const strength = sound.createGain();
  source.buffer = hiss;
  filter.type = "highpass";
  filter.frequency.value = from;
  strength.gain.setValueAtTime(loud, at);
  strength.gain.exponentialRampToValueAtTime(0.0005, at + length);
  source.connect(filter).connect(strength).connect(out);
  source.start(at, 0, length + 0.02);
  return source;
}

function note([part, , length, pitch, velocity], at, beat, two) {
  const loud = (velocity / 127) ** 2;
  if (part === LINE || part === SECOND)
    return struck(pitch, at, length * beat, 0.34 * loud, "triangle", 0.12, side(part, two));
  if (part === CHORDS) return struck(pitch, at, length * beat, 0.07 * loud, "sine", 0.2);
  if (part === BASS) return struck(pitch, at, length * beat, 0.3 * loud, "triangle", 0.08);
  if (part === CLICK) return struck(pitch > 76 ? 91 : 96, at, 0.02, 0.16 * loud, "square", 0.03);
  if (pitch <= 36) return struck(31, at, 0.06, 0.4 * loud, "sine", 0.08);
  return rustle(at, 0.1 * loud, pitch === 51 || pitch === 59 ? 0.3 : 0.09, pitch <= 40 ? 1500 : 6000);
}

/** One piece of music, from its lead to its end, over and over where that is wished. */
class Playing {
  constructor(button, piece) {
    this.button = button;
    this.piece = piece;
    this.two = piece.notes.some((each) => each[0] === SECOND);
    this.music = button.closest("section, article").querySelector(".music");
    this.voices = [];
    this.words = button.textContent;
    this.begin(sound.currentTime + 0.08, -piece.lead);
    button.textContent = "Stop";
    this.timer = setInterval(() => this.plan(), 40);
    this.follow();
  }

  begin(at, from) {
    this.beat = 60 / Number(tempo.value);
    this.start = at - from * this.beat;
    this.next = 0;
    this.from = from;
    this.plan();
  }

  seconds(beats) {
    return this.start + beats * this.beat;
  }

  plan() {
    const until = sound.currentTime + AHEAD;
    const { notes, beats } = this.piece;
    while (this.next < notes.length && this.seconds(notes[this.next][1]) < until) {
      const each = notes[this.next++];
      const at = this.seconds(each[1]);
      if (each[1] >= this.from - 0.5 && heard(each[0]) && at > sound.currentTime - 0.05)
        this.voices.push(note(each, Math.max(at, sound.currentTime), this.beat, this.two));
    }
    if (this.voices.length > 200) this.voices.splice(0, 100);
    if (this.next < notes.length || this.seconds(beats) > until) return;
    if (loop.checked) this.begin(this.seconds(beats), 0);
    else if (sound.currentTime > this.seconds(beats)) stop();
  }

  follow() {
    if (playing && playing !== this) return;
    const now = (sound.currentTime - this.start) / this.beat;
    const lit = this.piece.notes.find(
      (each) => each[0] === LINE && each[1] <= now && now < each[1] + each[2],
    );
    this.light(lit ? lit[5] : null);
    this.frame = requestAnimationFrame(() => this.follow());
  }

  light(index) {
    if (index === this.index) return;
    this.index = index;
    this.music.querySelectorAll(".lit").forEach((each) => each.classList.remove("lit"));
    if (index === null) return;
    this.music.querySelectorAll(".note").forEach((each) => {
      if (each.id.endsWith(`1-${index}`)) each.classList.add("lit");
    });
  }

  end() {
    clearInterval(this.timer);
    cancelAnimationFrame(this.frame);
    this.light(null);
    this.button.textContent = this.words;
    for (const voice of this.voices)
      try {
        voice.stop();
      } catch {
        // It has ended already.
      }
  }
}

function stop() {
  playing?.end();
  playing = null;
}

async function press(button) {
  const again = playing?.button === button;
  stop();
  if (again) return;
  await wake();
  playing = new Playing(button, data[button.dataset.piece]);
}

document
  .querySelectorAll("[data-piece]")
  .forEach((button) => button.addEventListener("click", () => press(button)));
document.getElementById("level").addEventListener("input", () => out && (out.gain.value = level()));
tempo.addEventListener("input", () => (document.getElementById("beats").textContent = tempo.value));
