// Answers that were asked for once: the newest are kept, and one that failed is asked for again.

/** @template Answer */
export class Memory {
  /** @param {number} most how many are kept */
  constructor(most) {
    this.most = most;
    /** @type {Map<string, Promise<Answer>>} */
    this.known = new Map();
  }

  /** The answer of a name, asked for where it is not known.
   * @param {string} name
   * @param {() => Promise<Answer>} ask
   * @returns {Promise<Answer>}
   */
  get(name, ask) {
    const found = this.known.get(name);
    if (found) return found;
    const asked = ask();
    this.known.set(name, asked);
    asked.catch(() => this.known.delete(name));
    const oldest = this.known.keys().next();
    if (this.known.size > this.most && !oldest.done) this.known.delete(oldest.value);
    return asked;
  }
}
