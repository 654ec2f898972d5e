// Small helpers for building the page.

/** An element: h("button.quiet", {onclick}, "text", child). Attributes that are null or false are left out.
 * @returns {any}
 */
export function h(spec, attributes = {}, ...children) {
  const [tag, ...classes] = spec.split(".");
  const made = document.createElement(tag || "div");
  if (classes.length) made.className = classes.join(" ");
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "class") made.className += ` ${value}`;
    else if (name in made && ["value", "checked", "indeterminate", "htmlFor"].includes(name))
      made[name] = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(
    ...children.flat(Infinity).filter((each) => each !== null && each !== undefined && each !== false),
  );
  return made;
}

/** The element of an id that the page has.
 * @returns {any}
 */
export const byId = (id) => document.getElementById(id);

/** The control that has the focus.
 * @returns {any}
 */
export const focused = () => document.activeElement;

/** An element of a picture. */
export function svg(tag, attributes = {}) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  return made;
}

/** A button that does something. */
export const button = (text, act, attributes = {}, spec = "button") =>
  h(spec, { type: "button", onclick: act, ...attributes }, text);

export { brief, digits, lines } from "./words.js";

let spoken = 0;
/** Tell the reader something, on the screen for a while and to screen readers. */
export function say(text) {
  const place = byId("say");
  place.textContent = text;
  place.classList.add("shown");
  clearTimeout(spoken);
  spoken = setTimeout(() => place.classList.remove("shown"), 5000);
}

/** Keep a text as a file. */
export function keep(blob, name) {
  const address = URL.createObjectURL(blob);
  const link = h("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

/** A choice out of a few: options are [value, words]. */
export function select(options, value, set) {
  const made = h(
    "select",
    { onchange: () => set(made.value) },
    options.map(([each, words]) => h("option", { value: each }, words)),
  );
  made.value = String(value);
  return made;
}

let next = 0;
/** An id that no other element has. */
export const fresh = (word) => `${word}-${++next}`;

/** A label and its control. */
export function field(words, control, help) {
  const id = (control.id ||= fresh("field"));
  const note = help ? h("span.help", { id: `${id}-help` }, help) : null;
  if (note) control.setAttribute("aria-describedby", note.id);
  return h("div.field", {}, h("label", { for: id }, words), control, note);
}

/** Draw something anew so that whoever uses it does not notice: the control that had the focus has it again, with
 *  what was typed and not handed over, at the same height of the window. ``fallbacks`` are keys of controls that
 *  take the focus where that one is gone. */
export function redrawing(place, draw, fallbacks = []) {
  const held = focused();
  const inside = held && place.contains(held);
  const key = inside ? held.dataset.key : null;
  const typed = inside && isTyped(held) ? [held.value, held.selectionStart, held.selectionEnd] : null;
  const top = key ? held.getBoundingClientRect().top : 0;
  const scroller = scrollerOf(place);
  const scroll = scroller.scrollTop;
  drawing.now = true;
  draw();
  drawing.now = false;
  scroller.scrollTop = scroll;
  if (!inside) return;
  const again = [key, ...fallbacks]
    .map((each) => each && byKey(place, each))
    .find((each) => each && !each.disabled);
  if (!again) return;
  if (typed && again.dataset.key === key) {
    again.value = typed[0];
    if (again.type !== "number") again.setSelectionRange?.(typed[1], typed[2]);
  }
  if (typed && again.dataset.key === key && again.value !== again.defaultValue) toldWhenLeft(again);
  again.focus({ preventScroll: true });
  if (again.dataset.key === key) scrollBack(scroller, again.getBoundingClientRect().top - top);
}

/** What scrolls, of a place and what it is in. */
function scrollerOf(place) {
  const scrolls = (each) => ["auto", "scroll"].includes(getComputedStyle(each).overflowY);
  let found = place;
  while (found && !scrolls(found)) found = found.parentElement;
  return found ?? place;
}

const drawing = { now: false };

/** A browser tells of a change only where it saw the typing itself: tell of it when the control is left by the
 *  reader, and not because it is drawn anew. */
function toldWhenLeft(control) {
  const tell = () => drawing.now || control.dispatchEvent(new Event("change"));
  control.addEventListener("blur", tell, { once: true });
}

/** A control by its key.
 * @returns {any}
 */
export const byKey = (place, key) =>
  [...place.querySelectorAll("[data-key]")].find((each) => each.dataset.key === key);

const isTyped = (control) =>
  control.matches("textarea, input[type=text], input[type=number]") && control.value !== control.defaultValue;

/** Undo a shift of so many pixels by scrolling whatever scrolls. */
function scrollBack(place, shift) {
  if (Math.abs(shift) < 1) return;
  const before = place.scrollTop;
  place.scrollTop += shift;
  const left = shift - (place.scrollTop - before);
  if (Math.abs(left) >= 1) scrollBy(0, left);
}

/** Ask before something is done; answers the value of the choice, or null. choices: [value, words]. */
export function ask(title, words, choices) {
  return new Promise((resolve) => {
    const id = fresh("asked");
    const answers = choices.map(([value, text], place) =>
      button(text, () => answer(value), {}, place ? "button" : "button.strong"),
    );
    const dialog = h(
      "dialog.asked",
      { "aria-labelledby": id },
      h("h2", { id }, title),
      h("p", {}, words),
      h(
        "div.row",
        {},
        answers,
        button("Cancel", () => answer(null), {}, "button.quiet"),
      ),
    );
    const answer = (value) => {
      resolve(value);
      dialog.close();
      dialog.remove();
    };
    dialog.addEventListener("cancel", () => answer(null));
    document.body.append(dialog);
    dialog.showModal();
  });
}

/** Print once the music in a place is drawn. */
export async function printed(place) {
  const until = Date.now() + 20_000;
  const drawn = () => [...place.querySelectorAll("music-strip")].every((each) => "ready" in each.dataset);
  if (!drawn()) say("The music is being drawn; the print window opens in a moment.");
  while (!drawn() && Date.now() < until) await new Promise((resolve) => setTimeout(resolve, 100));
  print();
}
