// The parts of the rules: what each is called, how it is filled, and the sentence that says what holds.

import { approachPart, approachSays, endingPart, endingSays } from "./figure-parts.js";
import { keysPart, section, valueInWords } from "./keys.js";
import { limitSays, limitsPart } from "./limits.js";
import { musicPart, musicSays, rangePart, rangeSays } from "./music-part.js";
import { ownPart, ownSays } from "./own.js";
import { entryPart, entrySays } from "./start-part.js";
import { counts } from "./counts.js";
import { at, state } from "./state.js";

export const PART_GROUPS = [
  {
    title: "The tune",
    parts: [
      { name: "music", title: "Changes", sections: [""], fill: musicPart, says: musicSays },
      { name: "range", title: "Instrument and range", sections: ["range"], fill: rangePart, says: rangeSays },
      {
        name: "rhythm",
        title: "Rhythm",
        sections: ["rhythm"],
        fill: (body) => keysPart(body, "rhythm"),
        says: rhythmSays,
      },
    ],
  },
  {
    title: "The line",
    parts: [
      { name: "entry", title: "First note", sections: ["entry"], fill: entryPart, says: entrySays },
      {
        name: "arpeggio",
        title: "Arpeggios",
        sections: ["arpeggio"],
        fill: (body) => keysPart(body, "arpeggio"),
        says: arpeggioSays,
      },
      {
        name: "approach",
        title: "Approach notes",
        sections: ["approach"],
        fill: approachPart,
        says: approachSays,
      },
      {
        name: "passing",
        title: "Passing notes",
        sections: ["passing"],
        fill: passingPart,
        says: passingSays,
      },
      {
        name: "handoff",
        title: "Into the next chord",
        sections: ["handoff"],
        fill: (body) => keysPart(body, "handoff"),
        says: () => valueInWords("handoff", "rule"),
      },
      { name: "ending", title: "Ending", sections: ["ending"], fill: endingPart, says: endingSays },
    ],
  },
  {
    title: "Your own",
    parts: [
      {
        name: "own",
        title: "Own figures, endings, scales",
        sections: ["figures", "endings", "scales"],
        fill: ownPart,
        says: ownSays,
      },
      {
        name: "roughness",
        title: "What smooth means",
        sections: ["roughness"],
        fill: (body) => keysPart(body, "roughness"),
        says: roughnessSays,
      },
      { name: "limit", title: "Limits", sections: [], fill: limitsPart, says: limitSays },
    ],
  },
];

export const PARTS = PART_GROUPS.flatMap((each) => each.parts);

function arpeggioSays() {
  const { keys } = section("arpeggio");
  const [turns, skips] = ["turns", "skips"].map(
    (name) => at(`arpeggio.${name}`) ?? keys.find((each) => each.name === name).default,
  );
  const several = (count, word) =>
    count ? `up to ${count} ${word}${count > 1 ? "s" : ""} in a run` : `no ${word}s`;
  const said = [valueInWords("arpeggio", "direction"), several(turns, "turn")];
  return [...said, ...(skips ? [several(skips, "skipped chord tone")] : [])].join(", ");
}

function passingSays() {
  return at("passing.kinds")
    ? `${valueInWords("passing", "kinds")}, ${valueInWords("passing", "place")}`
    : "none";
}

const PASSING_COUNTS = ["0", "0-1", "1", "0-2", "1-2", "0-99"];

/** What passing notes depend on is there before there are any, so that no control moves when there are. */
function passingPart(body) {
  keysPart(body, "passing", ["kinds", "place"]);
  body.append(counts("passing", PASSING_COUNTS));
  if (!at("passing.kinds")) [...body.children].slice(1).forEach((each) => each.setAttribute("inert", ""));
}

function rhythmSays() {
  const chosen = at("rhythm.cells");
  if (!chosen) return "a note on every part of the beat";
  const { cells, dotted_cells: dotted } = state.vocabulary;
  return chosen.map((each) => cells[each] ?? dotted[each] ?? each).join("; ");
}

function roughnessSays() {
  return Object.keys(state.tables.roughness ?? {}).length ? "weights of your own" : "as usual";
}
