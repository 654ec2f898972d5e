// Undo and redo: values that were there before, and those that were undone.

const MOST = 200;

/** @template Value */
export class Past {
  constructor() {
    /** @type {Value[]} */
    this.before = [];
    /** @type {Value[]} */
    this.after = [];
  }

  /** Remember a value that is about to be replaced.
   * @param {Value} value
   */
  record(value) {
    this.before.push(structuredClone(value));
    this.before.splice(0, this.before.length - MOST);
    this.after.length = 0;
  }

  /** The value before, or undefined; the present one can be come back to.
   * @param {Value} present
   */
  undo(present) {
    return step(this.before, this.after, present);
  }

  /** The value that was undone last, or undefined.
   * @param {Value} present
   */
  redo(present) {
    return step(this.after, this.before, present);
  }

  get canUndo() {
    return this.before.length > 0;
  }

  get canRedo() {
    return this.after.length > 0;
  }
}

/**
 * @template Value
 * @param {Value[]} from
 * @param {Value[]} to
 * @param {Value} present
 * @returns {Value | undefined}
 */
function step(from, to, present) {
  if (!from.length) return undefined;
  to.push(structuredClone(present));
  return from.pop();
}
