/**
 * Audit log: server-rendered; times are shown in this computer's own zone, films by the first letters of their digest.
 * @module
 */
import { whenWords } from "../models/wording.js";

/** @param {any} _data @param {HTMLElement} root */
export function start(_data, root) {
  for (const cell of root.querySelectorAll("tbody td:last-child")) {
    const said = cell.textContent?.trim() ?? "";
    if (!/^[0-9a-f]{64}$/.test(said)) continue;
    cell.textContent = `film ${said.slice(0, 12)}…`;
    cell.setAttribute("title", said);
  }
  for (const cell of root.querySelectorAll("tbody td:first-child")) cell.textContent = whenWords(cell.textContent?.trim());
}
