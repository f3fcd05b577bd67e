/**
 * Light room or dark room: follows the computer until the surgeon says otherwise.
 * @module
 */

const KEY = "limbwright-room";

/** @returns {"light"|"dark"} */
function room() {
  const said = localStorage.getItem(KEY);
  if (said === "light" || said === "dark") return said;
  return matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
}

function show() {
  const now = room();
  document.documentElement.dataset.room = now;
  const button = document.querySelector("#room");
  if (button) button.textContent = now === "dark" ? "Light room" : "Dark room";
  document.documentElement.dispatchEvent(new Event("room"));
}

export function listenForRoom() {
  show();
  document.querySelector("#room")?.addEventListener("click", () => {
    localStorage.setItem(KEY, room() === "dark" ? "light" : "dark");
    show();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", show);
}
