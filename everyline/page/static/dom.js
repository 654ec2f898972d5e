// Small helpers for building the page.

/** An element: h("button.quiet", {onclick}, "text", child). Attributes that are null or false are left out. */
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

/** A button that does something. */
export const button = (text, act, attributes = {}, spec = "button") =>
  h(spec, { type: "button", onclick: act, ...attributes }, text);

/** Decimal digits in groups of three with thin no-break spaces; very long numbers as a power of ten. */
export function digits(text) {
  return String(text).replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");
}

/** A number short enough for a line of print: exact up to so many digits. */
export function brief(text, exact = 15) {
  const all = String(text);
  return all.length <= exact ? digits(all) : `${all[0]}.${all.slice(1, 3)} × 10${raised(all.length - 1)}`;
}

const raised = (number) => [...String(number)].map((digit) => "⁰¹²³⁴⁵⁶⁷⁸⁹"[digit]).join("");

/** "1 line", "17 lines". */
export const lines = (count) => `${digits(count)} line${String(count) === "1" ? "" : "s"}`;

let spoken = 0;
/** Tell the reader something, on the screen for a while and to screen readers. */
export function say(text) {
  const place = document.getElementById("say");
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
