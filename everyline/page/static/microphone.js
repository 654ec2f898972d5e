// The microphone, where the browser has one here and whoever plays allows it: a round recorded, as one WAV file.

const MISSING =
  "This browser gives no microphone to this page; one is there on the machine that everyline serve runs on.";
const REFUSED = "The browser was not allowed to use the microphone; allow it for this page and try again.";
const RATE = 22050; // samples a second: enough for every pitch of an instrument
const HEADER = 44; // bytes

/** @type {{stream: MediaStream | null}} */
const open = { stream: null };

/** Ask for the microphone; answers with nothing, or why there is none, in a sentence. */
export async function openMicrophone() {
  if (open.stream) return "";
  if (!navigator.mediaDevices?.getUserMedia || typeof MediaRecorder === "undefined") return MISSING;
  try {
    // What makes speech clear makes music worse.
    const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
    open.stream = await navigator.mediaDevices.getUserMedia({ audio });
  } catch {
    return REFUSED;
  }
  return "";
}

export const hasMicrophone = () => open.stream !== null;

/** Let go of the microphone. */
export function closeMicrophone() {
  open.stream?.getTracks().forEach((each) => each.stop());
  open.stream = null;
}

/** Begin to record; answers what ends it and finds the WAV file, and when it began by the window's clock.
 * @returns {{began: number, end: () => Promise<Blob>}}
 */
export function record() {
  const recorder = new MediaRecorder(open.stream);
  /** @type {Blob[]} */
  const parts = [];
  recorder.ondataavailable = (event) => parts.push(event.data);
  recorder.start();
  const end = () =>
    new Promise((resolve, reject) => {
      recorder.onstop = () => wavOf(new Blob(parts)).then(resolve, reject);
      recorder.stop();
    });
  return { began: performance.now(), end: /** @type {() => Promise<Blob>} */ (end) };
}

/** A recording as the browser made it, as WAV.
 * @param {Blob} recorded
 */
async function wavOf(recorded) {
  const context = new OfflineAudioContext(1, 1, RATE);
  const found = await context.decodeAudioData(await recorded.arrayBuffer());
  return new Blob([wav(found.getChannelData(0), RATE)]);
}

/** Samples (-1 to 1) as a WAV file of 16 bits (RIFF WAVE, format 1: PCM).
 * @param {ArrayLike<number>} samples
 * @param {number} rate samples a second
 */
export function wav(samples, rate) {
  const bytes = new DataView(new ArrayBuffer(HEADER + 2 * samples.length));
  const word = (/** @type {number} */ at, /** @type {string} */ text) =>
    [...text].forEach((each, place) => bytes.setUint8(at + place, each.charCodeAt(0)));
  const long = (/** @type {number} */ at, /** @type {number} */ value) => bytes.setUint32(at, value, true);
  const short = (/** @type {number} */ at, /** @type {number} */ value) => bytes.setUint16(at, value, true);
  word(0, "RIFF");
  long(4, HEADER - 8 + 2 * samples.length);
  word(8, "WAVEfmt ");
  long(16, 16);
  short(20, 1);
  short(22, 1);
  long(24, rate);
  long(28, 2 * rate);
  short(32, 2);
  short(34, 16);
  word(36, "data");
  long(40, 2 * samples.length);
  for (let place = 0; place < samples.length; place += 1)
    bytes.setInt16(HEADER + 2 * place, Math.round(32767 * Math.max(-1, Math.min(1, samples[place]))), true);
  return bytes.buffer;
}
