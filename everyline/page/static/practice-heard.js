// What was heard of a take, in words and written out.

import { h } from "./dom.js";
import { sentence, signedIn } from "./words.js";

const UNSURE = "A note that was not heard surely counts neither as right nor as wrong.";

/** The parts that show it: the verdict, each note that was not right or not in time, what was played, how sure. */
export function heardPart(found) {
  const list = (rows) => h("ul", {}, rows.map((each) => h("li", {}, sentence(signedIn(each)))));
  const strip = found.picture ? h("music-strip.large") : null;
  if (strip) queueMicrotask(() => strip.show(found.picture, `What was heard: ${found.notes.join(" ")}`));
  return [
    h("h3", {}, "What was heard"),
    h("p", {}, h("b", {}, `${found.summary}.`)),
    found.words.length ? list(found.words) : null,
    strip,
    h("p.help", {}, `Sure to ${Math.round(100 * found.sure)} %. ${UNSURE}`),
    h("details", {}, h("summary", {}, "What was taken for granted"), list([...found.assumed, ...found.remarks])),
  ].filter(Boolean);
}
