/**
 * Keys that work everywhere, and the list of them.
 * @module
 */
import { html, render } from "../vendor/lit-html/lit-html.js";

/** Every key, where it works, and what it does. */
export const KEYS = [
  { where: "Everywhere", keys: ["?"], does: "this list" },
  { where: "Everywhere", keys: ["Tab"], does: "next thing that can be used" },
  { where: "Light table", keys: ["U"], does: "undo" },
  { where: "Light table", keys: ["shift U"], does: "redo" },
  { where: "Light table", keys: ["["], does: "one day back on the time strip" },
  { where: "Light table", keys: ["]"], does: "one day on" },
  { where: "Light table", keys: ["F"], does: "fit the whole leg; shift F: the treated bone" },
  { where: "Light table", keys: ["1", "2", "3", "4", "5", "6"], does: "ledger, landmarks, case, plan, accept, look" },
  { where: "Light table", keys: ["N"], does: "place the next landmark that is needed" },
  { where: "Light table", keys: ["S"], does: "save now" },
  { where: "A film", keys: ["wheel", "+", "−"], does: "zoom, at the pointer or the middle" },
  { where: "A film", keys: ["drag", "arrows"], does: "pan both films" },
  { where: "A thing on the film", keys: ["arrows"], does: "nudge by 0.1 mm; with shift by 1 mm" },
  { where: "A thing on the film", keys: ["Enter", "Escape"], does: "keep the nudge; let it go" },
  { where: "Placing a landmark", keys: ["arrows"], does: "move the cross by 1 mm; with shift by 10 mm, with alt by 0.1 mm" },
  { where: "Placing a landmark", keys: ["Enter"], does: "set the landmark; again: take what the film shows" },
  { where: "Placing a landmark", keys: ["K"], does: "keep the click instead" },
  { where: "Placing a landmark", keys: ["G"], does: "look on the film for what is clicked, or not" },
  { where: "Tracing walls", keys: ["Enter"], does: "a point on the shaft where the cross was moved to; else take the walls" },
  { where: "Tracing walls", keys: ["arrows", "Delete"], does: "on a wall: pull it, which lays a pin; on a pin: take it away" },
  { where: "Course", keys: ["[", "]"], does: "visit before, visit after" },
  { where: "Course", keys: ["V"], does: "record a visit" },
  { where: "Visit", keys: ["ctrl Enter"], does: "save the visit" },
  { where: "Time strip", keys: ["arrows"], does: "a day; Page Up and Page Down: a week; Home, End: the ends" },
];

export function keyList() {
  const groups = [...new Set(KEYS.map((k) => k.where))];
  return html`<div class="stack">${groups.map(
    (where) => html`<section><h2>${where}</h2><dl class="key-list">${KEYS.filter((k) => k.where === where).map(
      (k) => html`<dt>${k.keys.map((key) => html`<kbd>${key}</kbd> `)}</dt><dd>${k.does}</dd>`,
    )}</dl></section>`,
  )}</div>`;
}

/** @param {KeyboardEvent} event typing goes to the field, never to the page */
export function isTyping(event) {
  const target = /** @type {HTMLElement} */ (event.target);
  return target.matches("textarea, select, input:not([type=checkbox], [type=radio], [type=range])") || target.isContentEditable;
}

/** `?` opens the list on every page. */
export function listenForKeys() {
  const dialog = /** @type {HTMLDialogElement} */ (document.querySelector("dialog#keys"));
  const open = () => {
    render(
      html`<div class="row apart"><h1>Keys</h1><button type="button" @click=${() => dialog.close()}>Close</button></div>${keyList()}`,
      dialog,
    );
    dialog.showModal();
  };
  document.querySelector("#open-keys")?.addEventListener("click", open);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "?" || isTyping(event) || document.querySelector("dialog[open]")) return;
    event.preventDefault();
    open();
  });
}

/** @param {import("../pages/table.js").LightTable} table @param {(key: any) => void} openTab */
export function listenOnTable(table, openTab) {
  const tabs = ["ledger", "landmarks", "case", "plan", "accept", "look"];
  document.addEventListener("keydown", (event) => {
    if (isTyping(event) || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
    const key = event.key;
    if (key === "u") table.may && table.work.undo();
    else if (key === "U") table.may && table.work.redo();
    else if (key === "[") table.step(-1);
    else if (key === "]") table.step(1);
    else if (key === "f") table.fit(null);
    else if (key === "F") table.fit(table.work.bones[0]?.bone ?? null);
    else if (key === "s") void table.work.save();
    else if (key === "n") table.placeNext();
    else if (key === "g") table.placing.setSnapping(!table.placing.snapping);
    else if (key === "k" && table.placing.proposal) table.placing.refuse();
    else if (key === "Escape" && table.placing.proposal && !table.placing.active) table.placing.refuse();
    else if (key === "Escape" && table.asking) (table.stopAsking(), table.paint());
    else if (/^[1-6]$/.test(key)) openTab(tabs[Number(key) - 1]);
    else return;
    event.preventDefault();
  });
}
