// A MIDI instrument through Web MIDI, where the browser has it and whoever plays allows it.

const MISSING =
  "This browser cannot hear MIDI instruments here; Chromium can, on the machine that everyline serve runs on.";
const REFUSED = "The browser was not allowed to use MIDI instruments; allow it for this page and try again.";

/** @type {{access: any, hear: ((data: ArrayLike<number>, moment: number) => void) | null, changed: () => void}} */
const plugged = { access: null, hear: null, changed: () => {} };

/** Ask for the instruments; answers with nothing, or why there are none, in a sentence. */
export async function connect() {
  if (plugged.access) return "";
  const ask = /** @type {any} */ (navigator).requestMIDIAccess;
  if (!ask) return MISSING;
  try {
    plugged.access = await ask.call(navigator, { sysex: false });
  } catch {
    return REFUSED;
  }
  plugged.access.onstatechange = attend;
  attend();
  return "";
}

/** Listen to every instrument that is plugged in, also to one that comes later. */
function attend() {
  for (const input of plugged.access.inputs.values())
    input.onmidimessage = (/** @type {any} */ event) => plugged.hear?.(event.data, event.timeStamp);
  plugged.changed();
}

/** The names of the instruments; null before they were asked for.
 * @returns {string[] | null}
 */
export const instruments = () =>
  plugged.access &&
  [...plugged.access.inputs.values()]
    .filter((each) => each.state !== "disconnected")
    .map((each) => each.name || "an instrument without a name");

/** Have messages heard from now on; null: none.
 * @param {((data: ArrayLike<number>, moment: number) => void) | null} hear
 */
export const listenTo = (hear) => {
  plugged.hear = hear;
};

/** Be told when an instrument comes or goes.
 * @param {() => void} act
 */
export const onInstruments = (act) => {
  plugged.changed = act;
};
