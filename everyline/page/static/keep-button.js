// The button that keeps a line in the lesson, wherever a line is shown.

import { button, digits, say } from "./dom.js";
import { isKept, toggleLine } from "./kept.js";

/** A button that keeps a line in the lesson, or takes it out again. */
export function keepButton(tables, line, words = ["Keep", "Kept"]) {
  const made = button(
    "",
    () => {
      const there = toggleLine(tables, line);
      say(`Line ${digits(line.number)} is ${there ? "in" : "no longer in"} the lesson.`);
    },
    {},
    "button.quiet.keep",
  );
  made.update = () => {
    const there = isKept(tables, line);
    made.textContent = words[there ? 1 : 0];
    made.setAttribute(
      "aria-label",
      there ? `Kept: take line ${line.number} out of the lesson` : `Keep line ${line.number} in the lesson`,
    );
  };
  made.update();
  return made;
}
