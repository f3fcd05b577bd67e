/**
 * Starts the page's own module; what every page has: room appearance, keys, one name per page.
 * @module
 */
import { call } from "./api.js";
import { listenForKeys } from "./parts/keys.js";
import { listenForRoom } from "./parts/room.js";

/** Pages that have a script of their own. @type {Record<string, () => Promise<{start: (data: any, root: HTMLElement) => void}>>} */
const PAGES = {
  table: () => import("./pages/table.js"),
  cases: () => import("./pages/cases.js"),
  operation: () => import("./pages/operation.js"),
  sheet: () => import("./pages/sheet.js"),
  history: () => import("./pages/history.js"),
  profile: () => import("./pages/profile.js"),
  catalogue: () => import("./pages/catalogue.js"),
  keys: () => import("./pages/keys.js"),
  audit: () => import("./pages/audit.js"),
  login: () => import("./pages/login.js"),
  course: () => import("./pages/course.js"),
  visit: () => import("./pages/visit.js"),
  outcome: () => import("./pages/outcome.js"),
  results: () => import("./pages/results.js"),
};

listenForRoom();
document.querySelector("#log-out")?.addEventListener("click", () => {
  void call("DELETE", "/api/session").finally(() => location.assign("/login"));
});
listenForKeys();
// A menu closes when the work goes on elsewhere.
for (const menu of document.querySelectorAll("details.menu")) {
  document.addEventListener("pointerdown", (e) => menu.contains(/** @type {Node} */ (e.target)) || menu.removeAttribute("open"));
  menu.addEventListener("keydown", (e) => {
    if (/** @type {KeyboardEvent} */ (e).key !== "Escape") return;
    menu.removeAttribute("open");
    menu.querySelector("summary")?.focus();
  });
}
const data = JSON.parse(document.querySelector("#page-data")?.textContent ?? "{}");
const root = /** @type {HTMLElement|null} */ (document.querySelector("#page"));
if (root && PAGES[data.page]) {
  const page = await PAGES[data.page]();
  page.start(data, root);
}
document.documentElement.dataset.ready = "true";
