/**
 * Name and password.
 * @module
 */
import { call, failureOf } from "../api.js";

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const form = /** @type {HTMLFormElement} */ (root.querySelector("form"));
  const wrong = /** @type {HTMLElement} */ (root.querySelector("#login-error"));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = new FormData(form);
    wrong.textContent = "";
    try {
      await call("POST", "/api/session", { name: said.get("name"), password: said.get("password") });
      location.assign(data.next || "/cases");
    } catch (error) {
      const failure = failureOf(error);
      wrong.textContent = `${failure.found} ${failure.next}`;
    }
  });
}
