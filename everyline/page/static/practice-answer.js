// Exercises that are answered on the screen: notes that are left out, a note that is wrong; and the answer itself.

import { button, field, h, select } from "./dom.js";
import { wrongNotes } from "./practice-day.js";
import { signedIn } from "./words.js";

/** The part of a round in which it is answered; ``shown`` is called when the answer is shown. */
export function answerPart(exercise, strip, shown) {
  if (!exercise.solution) return null;
  const said = h("p.answer-said", { "aria-live": "polite" });
  const answer = h("div.answer", { hidden: true });
  const reveal = button("Show the answer", () => {
    fill(answer, exercise);
    answer.hidden = false;
    reveal.hidden = true;
    shown();
  });
  let asked = null;
  if (exercise.wrong !== null) asked = slip(exercise, strip, said);
  else if (exercise.blanks.length) asked = blanks(exercise, said);
  return h("section.answering", { "aria-label": "Your answer" }, asked, said, h("div.row", {}, reveal), answer);
}

function fill(place, exercise) {
  const strip = h("music-strip.large");
  place.replaceChildren(h("p", {}, exercise.answer.map(signedIn).join(" ")), strip);
  queueMicrotask(() => {
    strip.show(exercise.solution, `The line: ${exercise.notes.join(" ")}`);
    if (exercise.wrong !== null) strip.mark([exercise.wrong], "new");
  });
}

/** One button for each note that is shown. */
function slip(exercise, strip, said) {
  const choose = (place) => {
    const right = place === exercise.wrong;
    if (right) strip.mark([place], "wrong");
    const name = `note ${place + 1}, ${signedIn(exercise.shown[place])},`;
    said.textContent = right ? `Yes: ${name} is wrong.` : `No: ${name} is right.`;
  };
  const note = (name, place) =>
    button(signedIn(name), () => choose(place), {
      "aria-label": `Note ${place + 1}, ${signedIn(name)}`,
      onfocus: () => strip.light(place),
      onblur: () => strip.light(null),
    });
  const group = { role: "group", "aria-label": "Which note is wrong?" };
  return h("div.row.note-choices", group, exercise.shown.map(note));
}

/** One choice of a pitch for each note that is left out. */
function blanks(exercise, said) {
  const chosen = exercise.blanks.map(() => NaN);
  const one = (blank, place) => {
    const options = [["", "choose"], ...blank.choices.map(([pitch, name]) => [String(pitch), signedIn(name)])];
    const put = (value) => (chosen[place] = value === "" ? NaN : Number(value));
    return field(`Note ${blank.note + 1}`, select(options, "", put));
  };
  const check = () => {
    const wrong = wrongNotes(exercise.ways, chosen);
    const open = chosen.some(Number.isNaN);
    if (open) said.textContent = "Choose every note first.";
    else if (wrong) said.textContent = `No: ${wrong} of ${chosen.length} would have to be another.`;
    else said.textContent = "Yes, it fits the rules.";
  };
  return h("div.row.blank-choices", {}, exercise.blanks.map(one), button("Check", check));
}
