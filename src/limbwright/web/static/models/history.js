/**
 * Undo and redo without limit. Pure: every step gives a new history; states are never changed in place.
 * @module
 */

/** @template T @typedef {{past: {state: T, words: string}[], now: T, future: {state: T, words: string}[]}} History */

/** @template T @param {T} state @returns {History<T>} */
export function begun(state) {
  return { past: [], now: state, future: [] };
}

/** @template T @param {History<T>} h @param {T} state @param {string} words what was done @returns {History<T>} */
export function done(h, state, words) {
  return { past: [...h.past, { state: h.now, words }], now: state, future: [] };
}

/** @template T @param {History<T>} h @returns {History<T>} */
export function undone(h) {
  const last = h.past.at(-1);
  if (!last) return h;
  return {
    past: h.past.slice(0, -1),
    now: last.state,
    future: [{ state: h.now, words: last.words }, ...h.future],
  };
}

/** @template T @param {History<T>} h @returns {History<T>} */
export function redone(h) {
  const [next, ...rest] = h.future;
  if (!next) return h;
  return { past: [...h.past, { state: h.now, words: next.words }], now: next.state, future: rest };
}
