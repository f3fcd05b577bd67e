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

/** @param {any} whole @param {(string|number)[]} way @param {any} value @returns {any} */
function set(whole, way, value) {
  const [first, ...rest] = way;
  if (first === undefined) return value;
  const copy = typeof first === "number" ? [...(whole ?? [])] : { ...(whole ?? {}) };
  if (rest.length) copy[first] = set(copy[first], rest, value);
  else if (value === null || value === undefined) {
    if (Array.isArray(copy)) copy.splice(Number(first), 1);
    else delete copy[first];
  } else copy[first] = value;
  return copy;
}
