/**
 * Audit log: server-rendered; times are shown in this computer's own zone.
 * @module
 */
import { whenWords } from "../models/wording.js";

/** @param {any} _data @param {HTMLElement} root */
export function start(_data, root) {
  for (const cell of root.querySelectorAll("tbody td:first-child")) cell.textContent = whenWords(cell.textContent?.trim());
}
