/**
 * Colours and sizes of the canvas, from the same role tokens as the pages.
 * @module
 */

/** @typedef {{planned: string, seen: string, forecast: string, line: string, faint: string, halo: string, stop: string, film: string, rem: number, font: string}} Palette */

/** @returns {Palette} */
export function palette() {
  const style = getComputedStyle(document.documentElement);
  const role = (/** @type {string} */ name) => style.getPropertyValue(name).trim();
  return {
    planned: role("--planned-on-film"),
    seen: role("--seen-on-film"),
    forecast: role("--forecast-on-film"),
    line: role("--line-on-film"),
    faint: role("--faint-on-film"),
    halo: role("--halo-on-film"),
    stop: role("--stop-on-film"),
    film: role("--film"),
    rem: parseFloat(style.fontSize),
    font: getComputedStyle(document.body).fontFamily,
  };
}
