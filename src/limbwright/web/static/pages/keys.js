/**
 * The list of keys as a page.
 * @module
 */
import { render } from "../vendor/lit-html/lit-html.js";
import { keyList } from "../parts/keys.js";

/** @param {any} _data @param {HTMLElement} root */
export function start(_data, root) {
  root.replaceChildren();
  render(keyList(), root);
}
