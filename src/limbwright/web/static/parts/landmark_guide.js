/**
 * Landmarks in anatomical order, one at a time, with a small figure that shows where.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { FIGURE, PLACES } from "../models/landmark_places.js";
import { counted, plain, sentence } from "../models/wording.js";

/** @typedef {{film: string, side: string, landmark: string, words: string, projection: "frontal"|"sagittal", placed: boolean, needed: boolean}} Task */

/**
 * Every landmark of the films shown, in anatomical order.
 * @param {any} draft_case @param {any} answer @param {{film: string, projection: "frontal"|"sagittal", sides: string[]}[]} shown
 * @returns {Task[]}
 */
export function tasksOf(draft_case, answer, shown) {
  const list = [...(answer?.landmarks ?? [])].sort((a, b) => a.order - b.order);
  const needed = new Set((answer?.missing ?? []).map((/** @type {any} */ m) => `${m.film}/${m.side}/${m.landmark}`));
  return shown.flatMap(({ film, projection, sides }) =>
    sides.flatMap((side) =>
      list
        .filter((l) => l.projections.includes(projection))
        .map((l) => {
          const doc = draft_case.films.find((/** @type {any} */ f) => f.name === film);
          return {
            film,
            side,
            projection,
            landmark: l.landmark,
            words: l.words ?? plain(l.landmark),
            placed: Boolean(doc?.[side]?.[l.landmark]),
            needed: needed.has(`${film}/${side}/${l.landmark}`),
          };
        }),
    ),
  );
}

/** @param {Task} task */
export function taskKey(task) {
  return `${task.film}/${task.side}/${task.landmark}`;
}

/** Landmarks of bones with several bends, growing or seen only on some films: placed when they are wanted. */
const SPECIAL = /middle_shaft|physis|tuberosity/;

/** @param {Task} task */
function usual(task) {
  return task.needed || !SPECIAL.test(task.landmark);
}

/** The next landmark in anatomical order that is not placed yet. @param {Task[]} tasks @param {Task|null} after @param {boolean} needed_only @returns {Task|null} */
export function nextTask(tasks, after, needed_only) {
  const start = after ? tasks.findIndex((t) => taskKey(t) === taskKey(after)) + 1 : 0;
  return tasks.slice(start).find((t) => !t.placed && (needed_only ? t.needed : usual(t))) ?? null;
}

/** @param {string} landmark @param {"frontal"|"sagittal"} projection @param {boolean} mirrored */
export function figure(landmark, projection, mirrored) {
  const place = PLACES[landmark]?.[projection];
  return html`<svg class="figure" viewBox="0 0 120 300" role="img" aria-label="where on the leg: ${plain(landmark)}">
    <g transform=${mirrored ? "translate(120 0) scale(-1 1)" : "translate(0 0)"}>
      ${FIGURE[projection].map((d) => svg`<path d=${d} class="bone"/>`)}
      ${place
        ? svg`<circle class="ring" cx=${place[0]} cy=${place[1]} r="9"/><circle class="dot" cx=${place[0]} cy=${place[1]} r="3"/>`
        : nothing}
    </g>
  </svg>`;
}

/**
 * @param {object} what @param {Task[]} what.tasks @param {Task|null} what.placing
 * @param {boolean} what.needed_only @param {(task: Task|null, needed_only?: boolean) => void} what.choose
 * @param {(task: Task) => void} what.remove @param {(task: Task) => boolean} what.mirrored
 */
export function landmarkGuide({ tasks, placing, needed_only, choose, remove, mirrored }) {
  const open = tasks.filter((t) => t.needed && !t.placed).length;
  const rest = tasks.filter((t) => usual(t) && !t.placed).length;
  const groups = [...new Set(tasks.map((t) => `${t.film} · ${t.side} leg`))];
  return html`<div class="stack">
    <div class="guide-now">
      ${placing
        ? html`${figure(placing.landmark, placing.projection, mirrored(placing))}
            <div class="stack tight">
              <p class="quiet small">${placing.projection} film, ${placing.side} leg</p>
              <h3>${sentence(placing.words)}</h3>
              <p>${sentence(PLACES[placing.landmark]?.hint ?? "")}.</p>
              <p class="small quiet">Click on the film. By keyboard: the film has the focus; arrows move the cross by 1 mm
                (shift 10 mm, alt 0.1 mm), Enter sets it.</p>
              <div class="row"><button type="button" @click=${() => choose(nextTask(tasks, placing, needed_only), needed_only)}>Skip</button>
                <button type="button" @click=${() => choose(null)}>Stop placing</button></div>
            </div>`
        : html`<p>${open ? `${counted(open, "landmark is", "landmarks are")} needed before anything can be measured.` : rest ? `What is needed is placed; ${counted(rest, "more landmark", "more landmarks")} would let more be measured.` : "Every usual landmark is placed."} Drag one to move it.</p>
            <div class="row">${rest ? html`<button type="button" class="strong" id="place-in-order" @click=${() => choose(nextTask(tasks, null, false), false)}>Place in order</button>` : nothing}
              ${open ? html`<button type="button" id="place-needed" @click=${() => choose(nextTask(tasks, null, true), true)}>Only the needed</button>` : nothing}</div>`}
    </div>
    ${groups.map((group) => {
      const mine = tasks.filter((t) => `${t.film} · ${t.side} leg` === group);
      const missing = mine.filter((t) => t.needed && !t.placed).length;
      return html`<details class="guide-group" ?open=${missing > 0 || (placing && mine.includes(placing))}>
        <summary>${sentence(group)} <span class="quiet">${mine.filter((t) => t.placed).length} placed${missing ? `, ${missing} needed` : ""}</span></summary>
        <ul>${mine.map((t) => taskRow(t, placing, choose, remove))}</ul>
      </details>`;
    })}
  </div>`;
}

/** @param {Task} task @param {Task|null} placing @param {(task: Task|null) => void} choose @param {(task: Task) => void} remove */
function taskRow(task, placing, choose, remove) {
  const now = placing && taskKey(placing) === taskKey(task);
  return html`<li class="guide-row">
    <button type="button" class="plain" data-task=${taskKey(task)} aria-pressed=${now ? "true" : "false"} @click=${() => choose(now ? null : task)}>
      <span aria-hidden="true">${task.placed ? "◆" : task.needed ? "◇" : "·"}</span> ${sentence(task.words)}
      <span class="quiet small">${task.placed ? "placed" : task.needed ? "needed" : "may be added"}</span>
    </button>
    ${task.placed
      ? html`<button type="button" class="plain small" aria-label="remove ${task.words}, ${task.side} leg, ${task.film}" @click=${() => remove(task)}>remove</button>`
      : nothing}
  </li>`;
}
