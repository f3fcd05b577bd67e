/**
 * Setting one value in a JSON document by its path, `$.goal.bones[0].nail`. Pure: gives a new document.
 * @module
 */

/** @param {string} path @returns {(string|number)[]} */
export function steps(path) {
  const found = [];
  const pattern = /\.([^.[\]]+)|\[(\d+)\]|\["((?:[^"\\]|\\.)*)"\]/g;
  for (const match of path.slice(1).matchAll(pattern)) {
    if (match[2] !== undefined) found.push(Number(match[2]));
    else found.push(match[1] ?? match[3]);
  }
  return found;
}

/** @param {any} whole @param {string} path @param {any} value null or undefined takes it away @returns {any} */
export function setAt(whole, path, value) {
  return set(whole, steps(path), value);
}

/** Members of lists stand under their own names: `$.goal.bones.tibia`. */
const NAMES = ["name", "bone", "seen_on"];

/** @param {any} list @param {string|number} step where that member stands; the end of the list when it is not there */
function placeIn(list, step) {
  if (typeof step === "number") return step;
  const at = list.findIndex((/** @type {any} */ member) => NAMES.some((key) => member?.[key] === step));
  return at < 0 ? list.length : at;
}

/** @param {any} whole @param {(string|number)[]} way @param {any} value @returns {any} */
function set(whole, way, value) {
  const [step, ...rest] = way;
  if (step === undefined) return value;
  const absent = whole === undefined || whole === null;
  const member = !rest.length && NAMES.some((name) => value?.[name] === step);
  const list = Array.isArray(whole) || (absent && (typeof step === "number" || member));
  const copy = list ? [...(whole ?? [])] : { ...(whole ?? {}) };
  const key = list ? placeIn(copy, step) : step;
  if (rest.length) copy[key] = set(copy[key], rest, value);
  else if (value === null || value === undefined) {
    if (Array.isArray(copy)) copy.splice(Number(key), 1);
    else delete copy[key];
  } else copy[key] = value;
  return copy;
}
