// The keys of a section of the rule file as controls, each with its explanation.

import { control } from "./controls.js";
import { explained } from "./explain.js";
import { at, change, state } from "./state.js";
import { isNothing } from "./tables.js";

/** A section of the rule file, as the server describes it. */
export const section = (name) => state.vocabulary.sections.find((each) => each.name === name);

/** A key of a section. */
export const keyOf = (name, key) => section(name).keys.find((each) => each.name === key);

/** What sets a key, and the change that it would be. */
export const setter = (path) => (value) => change({ [path]: value });
export const changer = (path) => (value) => ({ [path]: isNothing(value) ? null : value });

/** Append the controls of a section's keys, or of some of them. */
export function keysPart(body, name, only = null) {
  for (const key of section(name).keys) {
    if (only && !only.includes(key.name)) continue;
    const path = name ? `${name}.${key.name}` : key.name;
    const counted = name === "roughness" ? null : changer(path);
    body.append(explained(path, key, control(path, key, at(path), setter(path), counted)));
  }
}

/** The value of a key with a few words to choose from, as a player would say it. */
export function valueInWords(table, name) {
  const key = keyOf(table, name);
  const value = at(`${table}.${name}`) ?? key.default;
  return [value]
    .flat()
    .map((each) => key.choices.find(([choice]) => choice === each)?.[1] ?? each)
    .join(", ");
}
