// Keys and foot pedals: a pedal types Page Up and Page Down, or the arrows to the left and right.

const ON = ["PageDown", "ArrowRight"];
const BACK = ["PageUp", "ArrowLeft"];

/** Have keys do something until the answer is called. Each act answers whether there was something to do.
 * @param {{on: () => boolean, back: () => boolean, space: () => unknown}} acts
 */
export function pedals(acts) {
  const hear = (/** @type {KeyboardEvent} */ event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey || event.repeat) return;
    const at = /** @type {any} */ (event.target);
    // What is typed or chosen in a field belongs to it, and space presses a button.
    if (at.matches?.("input:not([type=checkbox]), select, textarea") || document.querySelector("dialog[open]")) return;
    let done = false;
    if (ON.includes(event.key)) done = acts.on();
    else if (BACK.includes(event.key)) done = acts.back();
    else if (event.key === " " && !at.matches?.("button, summary, a, input")) done = Boolean(acts.space() ?? true);
    if (done) event.preventDefault();
  };
  addEventListener("keydown", hear);
  return () => removeEventListener("keydown", hear);
}
