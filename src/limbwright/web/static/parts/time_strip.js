/**
 * The time strip: as it stands, corrected, every day of lengthening, healed. Drag, click, or step by a day with [ and ].
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { CORRECTION_PART, instantAt, instantWords, positionOf, stepped } from "../models/time_axis.js";

/** @typedef {import("../models/time_axis.js").Axis} Axis */
/** @typedef {import("../models/time_axis.js").Instant} Instant */

const EDGE = 1.2; // rem on both sides

/**
 * @param {object} what @param {any} what.days answer of /api/work/days @param {any} what.drift forecast of drift, or null @param {any[]} what.course
 * @param {Instant} what.instant @param {number} what.wide @param {number} what.rem
 * @param {(instant: Instant) => void} what.seek
 */
export function timeStrip({ days, drift, course, instant, wide, rem, seek }) {
  /** @type {Axis} */
  const axis = days.axis;
  const edge = EDGE * rem;
  const span = Math.max(10, wide - 2 * edge);
  const x = (/** @type {Instant} */ i) => edge + positionOf(axis, i) * span;
  const dayX = (/** @type {number} */ day) => x({ correction: 1, day });
  const at = (/** @type {number} */ client, /** @type {HTMLElement} */ element) =>
    instantAt(axis, (client - element.getBoundingClientRect().left - edge) / span);
  const words = instantWords(instant, axis, days.moments);
  const high = 6.4 * rem;
  const track = 2.5 * rem;
  return html`<div
    class="strip-face"
    tabindex="0"
    role="slider"
    aria-label="time: from as it stands to healed"
    aria-valuemin="0"
    aria-valuemax="1000"
    aria-valuenow=${Math.round(positionOf(axis, instant) * 1000)}
    aria-valuetext=${words}
    @pointerdown=${(/** @type {PointerEvent} */ e) => {
      const element = /** @type {HTMLElement} */ (e.currentTarget);
      element.setPointerCapture(e.pointerId);
      seek(at(e.clientX, element));
    }}
    @pointermove=${(/** @type {PointerEvent} */ e) => {
      const element = /** @type {HTMLElement} */ (e.currentTarget);
      if (element.hasPointerCapture(e.pointerId)) seek(at(e.clientX, element));
    }}
    @keydown=${(/** @type {KeyboardEvent} */ e) => {
      const jump = keyed(e, axis, instant);
      if (!jump) return;
      e.preventDefault();
      e.stopPropagation();
      seek(jump);
    }}
  >
    <svg width=${wide} height=${high} aria-hidden="true">
      ${healedBand(course, dayX, track, rem)}
      <line class="track" x1=${edge} x2=${wide - edge} y1=${track} y2=${track} />
      <line class="correction" x1=${edge} x2=${edge + CORRECTION_PART * span} y1=${track} y2=${track} />
      ${driftBand(drift, dayX, track, rem)} ${gainedLine(days, dayX, track, rem)} ${filmDays(course, dayX, track, rem)}
      ${eventLabels(days, course, x, rem, wide)}
      <g transform="translate(${x(instant)} 0)" class="now">
        <path d="M${-0.5 * rem} ${track - 0.75 * rem}h${rem}L0 ${track}z" />
        <line x1="0" x2="0" y1=${track - 0.4 * rem} y2=${high - 0.2 * rem} />
      </g>
    </svg>
  </div>`;
}

/** @param {KeyboardEvent} e @param {Axis} axis @param {Instant} instant @returns {Instant|null} */
function keyed(e, axis, instant) {
  switch (e.key) {
    case "ArrowRight":
    case "ArrowUp":
      return stepped(axis, instant, 1);
    case "ArrowLeft":
    case "ArrowDown":
      return stepped(axis, instant, -1);
    case "PageUp":
      return stepped(axis, instant, 7);
    case "PageDown":
      return stepped(axis, instant, -7);
    case "Home":
      return { correction: 0, day: axis.first_day };
    case "End":
      return { correction: 1, day: axis.last_day };
    default:
      return null;
  }
}

/** @param {any} days @param {(day: number) => number} dayX @param {number} track @param {number} rem */
function gainedLine(days, dayX, track, rem) {
  const moments = days.moments.filter((/** @type {any} */ m) => m.day !== null && m.day !== undefined);
  const most = Math.max(1, ...moments.map((/** @type {any} */ m) => m.total_gained_mm));
  const low = track + 3.5 * rem;
  const y = (/** @type {number} */ mm) => low - (mm / most) * 2.9 * rem;
  const path = moments.map((/** @type {any} */ m, /** @type {number} */ i) => `${i ? "L" : "M"}${dayX(m.day).toFixed(1)} ${y(m.total_gained_mm).toFixed(1)}`).join("");
  return svg`<path class="gained" d=${path} />`;
}

/** @param {any[]} course @param {(day: number) => number} dayX @param {number} track @param {number} rem */
function filmDays(course, dayX, track, rem) {
  const days = [...new Set(course.flatMap((c) => c.film_days ?? []))];
  return days.map((d) => svg`<circle class="film-day" cx=${dayX(d)} cy=${track} r=${0.22 * rem}><title>film due on day ${d}</title></circle>`);
}

/** @param {any[]} course @param {(day: number) => number} dayX @param {number} track @param {number} rem */
function healedBand(course, dayX, track, rem) {
  const known = course.filter((c) => c.healed_days);
  if (!known.length) return nothing;
  const low = Math.max(...known.map((c) => c.healed_days.low));
  const high = Math.max(...known.map((c) => c.healed_days.high));
  return svg`<rect class="healed" x=${dayX(low)} width=${Math.max(2, dayX(high) - dayX(low))} y=${track - 0.3 * rem} height=${0.6 * rem} rx=${0.3 * rem}><title>healing expected between day ${low} and day ${high}</title></rect>`;
}

/** Expected drift, from its 5th to its 95th percentile over the days; its end says how many degrees that is.
 * @param {any} drift @param {(day: number) => number} dayX @param {number} track @param {number} rem */
function driftBand(drift, dayX, track, rem) {
  const points = drift?.days ?? [];
  if (points.length < 2) return nothing;
  const last = points.at(-1);
  const most = Math.max(1, ...points.map((/** @type {any} */ p) => p.high_deg));
  const low = track + 3.5 * rem;
  const y = (/** @type {number} */ deg) => low - (deg / most) * 1.9 * rem;
  const there = points.map((/** @type {any} */ p) => `${dayX(p.day).toFixed(1)} ${y(p.high_deg).toFixed(1)}`);
  const back = [...points].reverse().map((/** @type {any} */ p) => `${dayX(p.day).toFixed(1)} ${y(p.low_deg).toFixed(1)}`);
  return svg`<path class="drift" d=${`M${[...there, ...back].join("L")}z`}><title>${drift.words ?? "expected drift"}</title></path>
    <text class="event" text-anchor="end" x=${dayX(last.day)} y=${y(last.high_deg) - 0.25 * rem}>${last.low_deg.toFixed(1)} to ${last.high_deg.toFixed(1)}°</text>`;
}

/** Names of the days that matter, on as few rows as they need.
 * @param {any} days @param {any[]} course @param {(i: Instant) => number} x @param {number} rem @param {number} wide */
function eventLabels(days, course, x, rem, wide) {
  const stages = [
    { at: x({ correction: 0, day: 0 }), words: "as it stands" },
    ...days.axis.events.map((/** @type {any} */ e) => ({
      at: x({ correction: 1, day: e.day }),
      words: e.day === days.axis.first_day ? "corrected" : `day ${e.day}: ${e.what}`,
    })),
  ].sort((a, b) => a.at - b.at);
  const ends = [0, 0];
  return stages.map((s) => {
    const size = s.words.length * 0.45 * rem;
    const start = Math.min(Math.max(2, s.at - size / 2), wide - size - 2);
    const row = ends[0] <= start ? 0 : ends[1] <= start ? 1 : -1;
    if (row < 0) return nothing;
    ends[row] = start + size + 0.5 * rem;
    return svg`<text class="event" x=${start} y=${(row ? 1.78 : 0.85) * rem}>${s.words}</text><line class="tick" x1=${s.at} x2=${s.at} y1=${2.15 * rem} y2=${2.85 * rem}/>`;
  });
}
