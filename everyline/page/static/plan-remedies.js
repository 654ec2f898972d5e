// No chorus is left: changes of the plan that bring choruses back, one click each.

import { get, withRules } from "./api.js";
import { remedyList } from "./conflicts.js";
import { h } from "./dom.js";
import { withChange } from "./tables.js";
import { choruses } from "./words.js";

/** @typedef {import("./store.js").Tables} Tables */

export class RemediesPart {
  /** @param {(plan: Tables) => void} use takes a plan that is mended */
  constructor(use) {
    this.use = use;
    this.body = h("div.plan-remedies");
    this.round = new AbortController();
  }

  leave() {
    this.round.abort();
    this.body.replaceChildren();
  }

  /** For a plan without a chorus, what would bring some back; nothing for any other.
   * @param {Tables} plan
   * @param {{id: string, count: string} | null} found
   */
  async take(plan, found) {
    this.leave();
    if (found?.count !== "0") return;
    const { signal } = (this.round = new AbortController());
    this.body.replaceChildren(h("p", {}, "Looking for what would bring choruses back…"));
    try {
      const { remedies } = await withRules(plan, found.id, (id) => get(`/api/rules/${id}/conflicts`, signal));
      if (!signal.aborted) this.show(plan, remedies);
    } catch (error) {
      if (error.name !== "AbortError" && !signal.aborted)
        this.body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
    }
  }

  show(plan, remedies) {
    const use = (change) => this.use(withChange(change, plan));
    const stuck = h("p", {}, "No change there is enough. Undo your last change, or choose other bars.");
    this.body.replaceChildren(
      h("h3", {}, "What would bring choruses back"),
      remedies.length ? remedyList(remedies, use, choruses) : stuck,
    );
  }
}
