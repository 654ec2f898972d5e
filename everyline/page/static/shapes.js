// Values of the right shape. An address can hold anything, and so can a file: the server says what is wrong with
// it, and the page draws what can be drawn.

export const isTable = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
const isText = (value) => typeof value === "string";
const isMixed = (value) => isText(value) || Number.isInteger(value);
const listOf = (fits) => (value) => Array.isArray(value) && value.every(fits);

const FITS = {
  text: isText,
  number: Number.isInteger,
  flag: (value) => typeof value === "boolean",
  texts: listOf(isText),
  numbers: listOf(Number.isInteger),
  mixed: isMixed,
  mixes: listOf(isMixed),
  table: isTable,
  tables: Array.isArray,
};

/** The table without the keys that are known and whose values have another shape. */
function fitting(table, keys) {
  return Object.fromEntries(
    Object.entries(table).filter(([name, value]) => {
      const key = keys.find((each) => each.name === name);
      return !key || (FITS[key.shape] ?? (() => true))(value);
    }),
  );
}

/** The tables of a rule file with what has the right shape; what is not known here stays as it is. */
export function shaped(tables, vocabulary) {
  const found = fitting(tables, vocabulary.sections.find((each) => !each.name)?.keys ?? []);
  for (const section of vocabulary.sections) {
    const value = found[section.name];
    if (!section.name || value === undefined) continue;
    if (section.many)
      found[section.name] = Array.isArray(value)
        ? value.filter(isTable).map((each) => fitting(each, section.keys))
        : [];
    else found[section.name] = isTable(value) ? fitting(value, section.keys) : {};
    if (!Object.keys(found[section.name]).length) delete found[section.name];
  }
  if (found.limit !== undefined) {
    const limits = Array.isArray(found.limit)
      ? found.limit.filter((each) => isTable(each) && isText(each.kind))
      : [];
    found.limit = limits.map((each) =>
      fitting(each, vocabulary.limits.find((kind) => kind.kind === each.kind)?.keys ?? []),
    );
    if (!found.limit.length) delete found.limit;
  }
  if (found.scales !== undefined && !isTable(found.scales)) delete found.scales;
  return found;
}
