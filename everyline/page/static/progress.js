// Long work: how far it is, and a way to stop it, here and on the server.

import { button, fresh, h } from "./dom.js";

/** Show work in a place while it lasts. ``act(signal, tell)`` does it and tells (done, of, words); the answer is
 *  its answer, or undefined where it was stopped. */
export async function working(place, words, act) {
  const round = new AbortController();
  const id = fresh("progress");
  const bar = h("progress", { id, max: 1 });
  const said = h("label", { for: id }, words);
  const row = h(
    "div.working",
    { role: "group", "aria-label": "Progress" },
    said,
    bar,
    button("Cancel", () => round.abort(), {}, "button.quiet"),
  );
  place.append(row);
  const tell = (done, of, what = words) => {
    said.textContent = of ? `${what}: ${done} of ${of}` : what;
    if (of) Object.assign(bar, { max: of, value: done });
    else bar.removeAttribute("value");
  };
  try {
    return await act(round.signal, tell);
  } catch (error) {
    if (error.name !== "AbortError") throw error;
    return undefined;
  } finally {
    row.remove();
  }
}

/** A file out of the base64 text of an answer. */
export const fileFrom = (text, type) =>
  new Blob([Uint8Array.from(atob(text), (each) => each.charCodeAt(0))], { type });
