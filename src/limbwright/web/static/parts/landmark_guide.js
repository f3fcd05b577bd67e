/**
 * Landmarks in anatomical order, one at a time, with a small figure that shows where.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { wallsOf } from "../models/trace.js";
import { FIGURE, PLACES } from "../models/landmark_places.js";
import { counted, plain, sentence } from "../models/wording.js";

/** @typedef {{film: string, side: string, landmark: string, words: string, projection: "frontal"|"sagittal", placed: boolean, needed: boolean, how: string, bone?: string}} Task bone: its walls are traced instead */

/**
 * Every landmark of the films shown, in anatomical order.
 * @param {any} draft_case @param {any} answer @param {{film: string, projection: "frontal"|"sagittal", sides: string[]}[]} shown
 * @param {Record<string, {how: string, with: string[]}>} kinds how each can be found on a film
 * @returns {Task[]}
 */
export function tasksOf(draft_case, answer, shown, kinds) {
  const list = inOrder(answer?.landmarks ?? [], kinds);
  const needed = new Set((answer?.missing ?? []).map((/** @type {any} */ m) => `${m.film}/${m.side}/${m.landmark}`));
  return shown.flatMap(({ film, projection, sides }) => {
    const doc = draft_case.films.find((/** @type {any} */ f) => f.name === film);
    return sides.flatMap((side) =>
      list
        .filter((l) => l.projections.includes(projection))
        .flatMap((l) => {
          const mark = doc?.[side]?.[l.landmark];
          const task = {
            film,
            side,
            projection,
            landmark: l.landmark,
            words: l.words ?? plain(l.landmark),
            placed: Boolean(mark),
            needed: needed.has(`${film}/${side}/${l.landmark}`),
            how: mark?.provenance ?? "",
          };
          const bone = LAST_OF_SHAFT[l.landmark];
          return bone && side === draft_case.side && doc?.sha256 ? [task, wallTask(task, doc, bone)] : [task];
        }),
    );
  });
}

/** Anatomical order, but the middle of a line after the line's two ends: it follows from them. @param {any[]} landmarks @param {Record<string, {how: string, with: string[]}>} kinds */
function inOrder(landmarks, kinds) {
  const order = new Map(landmarks.map((l) => [l.landmark, l.order]));
  const place = (/** @type {any} */ l) => {
    const kind = kinds[l.landmark];
    return kind?.how === "middle of a line" ? Math.max(l.order, ...kind.with.map((end) => (order.get(end) ?? 0) + 0.5)) : l.order;
  };
  return [...landmarks].sort((a, b) => place(a) - place(b));
}

/** After the last point of a shaft its walls can be followed from the points. @type {Record<string, string>} */
const LAST_OF_SHAFT = { femur_distal_shaft_lower: "femur", tibia_distal_shaft_lower: "tibia" };

/** @param {Task} after @param {any} doc @param {string} bone @returns {Task} */
function wallTask(after, doc, bone) {
  const walls = wallsOf(doc, after.side, bone);
  return { ...after, landmark: `walls_of_the_${bone}`, words: `walls of the ${bone}`, placed: walls.length > 0, needed: false, how: walls[0]?.provenance ?? "", bone };
}

/** @param {Task} task */
export function taskKey(task) {
  return `${task.film}/${task.side}/${task.landmark}`;
}

/** Landmarks of bones with several bends, growing or seen only on some films: placed when they are wanted. */
const SPECIAL = /middle_shaft|physis|tuberosity/;

/** Where a mark came from, in a word. @type {Record<string, string>} */
const HOW = { clicked: "clicked", snapped: "from the film", edited: "moved by hand" };

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
 * @param {import("./placing.js").Placing} what.hand @param {unknown} what.tracing what is said while walls are traced
 */
export function landmarkGuide({ tasks, placing, needed_only, choose, remove, mirrored, hand, tracing }) {
  const open = tasks.filter((t) => t.needed && !t.placed).length;
  const rest = tasks.filter((t) => usual(t) && !t.placed).length;
  const groups = [...new Set(tasks.map((t) => `${t.film} · ${t.side} leg`))];
  return html`<div class="stack"><h2 class="for-readers">Landmarks</h2>
    <div class="guide-now">
      ${tracing ? tracing : placing
        ? html`${figure(placing.landmark, placing.projection, mirrored(placing))}
            <div class="stack tight">
              <p class="quiet small">${placing.projection} film, ${placing.side} leg</p>
              <h3>${sentence(placing.words)}</h3>
              <p>${sentence(PLACES[placing.landmark]?.hint ?? "")}.</p>
              ${proposalPart(hand) ?? html`<p class="small quiet">Click on the film. By keyboard: the film has the focus; arrows move the cross by 1 mm
                (shift 10 mm, alt 0.1 mm), Enter sets it.</p>`}
              <div class="row"><button type="button" @click=${() => hand.skip()}>Skip</button>
                <button type="button" @click=${() => (hand.stop(), choose(null))}>Stop placing</button></div>
            </div>`
        : html`<p>${open ? `${counted(open, "landmark is", "landmarks are")} needed before anything can be measured.` : rest ? `What is needed is placed; ${counted(rest, "more landmark", "more landmarks")} would let more be measured.` : "Every usual landmark is placed."} Drag one to move it.</p>
            ${proposalPart(hand) ?? nothing}
            <div class="row">${rest ? html`<button type="button" class="strong" id="place-in-order" @click=${() => choose(nextTask(tasks, null, false), false)}>Place in order</button>` : nothing}
              ${open ? html`<button type="button" id="place-needed" @click=${() => choose(nextTask(tasks, null, true), true)}>Only the needed</button>` : nothing}</div>`}
    </div>
    ${hand.note ? html`<p class="small quiet">${sentence(hand.note)}</p>` : nothing}
    ${Object.keys(hand.kinds).length
      ? html`<label class="small"><input type="checkbox" id="snapping" .checked=${hand.snapping} @change=${(/** @type {Event} */ e) => hand.setSnapping(/** @type {HTMLInputElement} */ (e.target).checked)} /> look on the film for what is clicked (<kbd>G</kbd>)</label>`
      : nothing}
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

/** What the film proposes, and what can be done with it. @param {import("./placing.js").Placing} hand */
function proposalPart(hand) {
  const { proposal } = hand;
  if (!proposal) return null;
  if (!proposal.reply) return html`<p class="small waiting" role="status">Looking at the film…</p>`;
  return html`<div class="film-says ${proposal.reply.poor ? "poor" : ""}">
    <p><strong>${proposal.reply.poor ? "Seen poorly" : "Seen on the film"}:</strong> ${plain(proposal.of.landmark)}</p>
    <p class="small quiet">${sentence(hand.words ?? "")}.</p>
    ${proposal.reply.findings.map((/** @type {any} */ f) => html`<p class="small">${f.words} ${f.next}</p>`)}
    <div class="row"><button type="button" class="strong small" id="take-proposal" @click=${() => hand.take()}>Take it <kbd>Enter</kbd></button>
      <button type="button" class="small" id="keep-click" @click=${() => hand.refuse()}>${proposal.origin === "click" ? "Keep my click" : "Leave it"} <kbd>K</kbd></button></div>
  </div>`;
}

/** @param {Task} task @param {Task|null} placing @param {(task: Task|null) => void} choose @param {(task: Task) => void} remove */
function taskRow(task, placing, choose, remove) {
  const now = placing && taskKey(placing) === taskKey(task);
  return html`<li class="guide-row">
    <button type="button" class="plain" data-task=${taskKey(task)} aria-pressed=${now ? "true" : "false"} @click=${() => choose(now ? null : task)}>
      <span aria-hidden="true">${task.placed ? "◆" : task.needed ? "◇" : "·"}</span> ${sentence(task.words)}
      <span class="quiet small">${task.placed ? (task.bone ? "traced" : HOW[task.how] ?? "placed") : task.needed ? "needed" : "may be added"}</span>
    </button>
    ${task.placed && !task.bone
      ? html`<button type="button" class="plain small" aria-label="remove ${task.words}, ${task.side} leg, ${task.film}" @click=${() => remove(task)}>remove</button>`
      : nothing}
  </li>`;
}
