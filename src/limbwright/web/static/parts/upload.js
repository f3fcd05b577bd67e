/**
 * Files on their way to the workbench, with how far they are.
 * @module
 */
import { Refused, failureOf, token } from "../api.js";

/**
 * Post files; `sent` is told the part that has gone, 0 to 1.
 * @param {string} path @param {FormData} form @param {(part: number) => void} sent @returns {Promise<any>}
 */
export function upload(path, form, sent) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", path);
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("X-CSRF-Token", token());
    request.upload.addEventListener("progress", (e) => e.lengthComputable && sent(e.loaded / e.total));
    request.addEventListener("error", () => reject(new Refused({ ...failureOf(null), code: "no-answer", found: "the workbench does not answer.", where: "this computer", next: "Start it again and drop the files once more; nothing is half kept." }, 0)));
    request.addEventListener("load", () => {
      const said = answered(request.responseText);
      if (said && request.status < 400) resolve(said);
      else reject(new Refused({ code: "fault", found: `the workbench answered ${request.status}.`, where: "films", unit: "", next: "Try again.", problems: [], differs: [], ...(said ?? {}) }, request.status));
    });
    request.send(form);
  });
}

/** @param {string} text */
function answered(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

/** @param {string} what @param {number} part gone, 0 to 1 */
export function progressWords(what, part) {
  return part < 1 ? `Taking in ${what}: ${Math.round(100 * part)} %` : `Reading ${what}…`;
}
