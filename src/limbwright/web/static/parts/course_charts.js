/**
 * The course of one bone: a time strip with its visits and films, and under it four charts on the same days.
 * Planned, measured and ahead differ by line and mark as well as by colour.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { bandPath, dayTicks, linePath, scale, ticks, valueRange, valueWords } from "../models/chart_axes.js";
import { fixed } from "../models/wording.js";

/** @typedef {import("../models/chart_axes.js").Chart} Chart */
/** @typedef {import("../models/chart_axes.js").Series} Series */

const TITLES = { length: "Length", alignment: "Alignment", motion: "Joint motion", "new bone": "New bone" };
const UNITS = { mm: "mm", deg: "°", ratio: "density ratio" };

/**
 * @param {object} what @param {any} what.bone one of the API's `charts` @param {any[]} what.films films of the case
 * @param {number} what.lastDay @param {number} what.wide @param {number} what.rem @param {number} what.high height of one chart
 * @param {string} what.page address of the course page @param {string} what.on day that is shown
 */
export function courseCharts({ bone, films, lastDay, wide, rem, high, page, on }) {
  const left = 3.3 * rem;
  const x = scale(0, lastDay, left, wide - 0.8 * rem);
  const marks = dayTicks(lastDay, Math.max(4, Math.floor(wide / (5 * rem))));
  return html`<div class="course-charts">
    ${strip({ bone, films, lastDay, wide, rem, x, page, on })}
    ${bone.charts.map((/** @type {Chart} */ chart) => oneChart(chart, { bone, lastDay, wide, rem, high, x, left, marks }))}
    <svg class="day-axis" width=${wide} height=${1.35 * rem} aria-hidden="true">
      ${marks.map((d) => svg`<text x=${x(d)} y=${0.95 * rem} text-anchor="middle">${d}</text>`)}
      <text x="0" y=${0.95 * rem}>day</text>
    </svg>
    ${legend()}
  </div>`;
}

/** @param {any} a */
function strip({ bone, films, lastDay, wide, rem, x, page, on }) {
  const track = 2.35 * rem;
  const seen = bone.visits.filter((/** @type {any} */ v) => v.day <= lastDay);
  const filmed = seen.some((/** @type {any} */ v) => filmOf(v, films));
  const high = (filmed ? 8.2 : 4.7) * rem;
  return html`<svg class="course-strip" width=${wide} height=${high} role="group" aria-label="Time strip: visits, films, phases">
    ${bone.phases.map((/** @type {any} */ p) => {
      const from = x(Math.min(p.from_day, lastDay));
      const to = x(Math.min(p.to_day + 1, lastDay));
      return to > from ? svg`<rect class="phase ${p.kind.replaceAll(" ", "-")}" x=${from} width=${to - from} y=${track - 0.35 * rem} height=${0.7 * rem}><title>${p.kind}, day ${p.from_day} to ${p.to_day}</title></rect>` : nothing;
    })}
    ${bone.film_days.filter((/** @type {number} */ d) => d <= lastDay).map((/** @type {number} */ d) => svg`<path class="film-due" d="M${x(d)} ${track + 0.4 * rem}v${0.45 * rem}"><title>film due on day ${d}</title></path>`)}
    ${eventWords(bone, lastDay, x, rem, wide)}
    <path class="today" d="M${x(bone.today)} ${track - 0.8 * rem}V${high}" />
    ${withRoom(seen, x, 2.6 * rem).map(({ visit, roomy }) => visitMark(visit, roomy ? films : [], roomy, x(visit.day), track, rem, page, on))}
  </svg>`;
}

/** Visits with whether word and film fit beside those of the later ones; the latest always has its own. @param {any[]} visits by day @param {(day: number) => number} x @param {number} needed */
function withRoom(visits, x, needed) {
  let next = Infinity;
  return [...visits]
    .reverse()
    .map((visit) => {
      const roomy = next - x(visit.day) >= needed;
      if (roomy) next = x(visit.day);
      return { visit, roomy };
    })
    .reverse();
}

/** @param {any} v @param {any[]} films @param {boolean} roomy whether its word has room @param {number} at @param {number} track @param {number} rem @param {string} page @param {string} on */
function visitMark(v, films, roomy, at, track, rem, page, on) {
  const film = filmOf(v, films);
  const size = 0.46 * rem;
  return svg`<a href="${page}?on=${v.on}" class="visit-mark ${v.pace}" aria-current=${v.on === on ? "date" : nothing} aria-label="Visit on day ${v.day}, ${v.on}: ${v.pace}">
    ${film ? svg`<image href="/films/${film.sha256}/tiles/0/0_0.jpg" x=${at - 1.6 * rem} y=${track + 2.1 * rem} width=${3.2 * rem} height=${3.6 * rem} preserveAspectRatio="xMidYMid slice"/>` : nothing}
    <rect class="hit" x=${at - 0.85 * rem} y=${track - 0.85 * rem} width=${1.7 * rem} height=${(film ? 6.6 : 2.9) * rem} />
    <circle cx=${at} cy=${track} r=${size} />
    ${roomy ? svg`<text x=${at} y=${track + 1.75 * rem} text-anchor="middle">${v.pace}</text>` : nothing}
    <title>Visit on day ${v.day}, ${v.on}: ${v.pace}</title>
  </a>`;
}

/** The first film of a visit that is at hand. @param {any} v @param {any[]} films */
function filmOf(v, films) {
  return films.find((f) => v.films.includes(f.name) && f.sha256);
}

/** Names of the days that matter, where there is room for them. @param {any} bone @param {number} lastDay @param {any} x @param {number} rem @param {number} wide */
function eventWords(bone, lastDay, x, rem, wide) {
  const ends = [0, 0];
  return [...bone.events]
    .filter((e) => e.day <= lastDay)
    .sort((a, b) => a.day - b.day)
    .map((e) => {
      const words = e.day === 0 ? e.what : `${e.what} (day ${e.day})`;
      const size = words.length * 0.42 * rem;
      const start = Math.min(Math.max(2, x(e.day) - size / 2), wide - size - 2);
      const row = ends[0] <= start ? 0 : ends[1] <= start ? 1 : -1;
      if (row < 0) return nothing;
      ends[row] = start + size + 0.6 * rem;
      return svg`<text x=${start} y=${(row ? 1.6 : 0.75) * rem}>${words}</text>`;
    });
}

/** @param {Chart} chart @param {any} a */
function oneChart(chart, { bone, lastDay, wide, rem, high, x, left, marks }) {
  const [low, top] = valueRange(chart, lastDay);
  const y = scale(low, top, high - 0.3 * rem, 0.3 * rem);
  const right = wide - 0.8 * rem;
  const title = TITLES[/** @type {keyof typeof TITLES} */ (chart.name)];
  const limits = chart.limits.filter((l) => l.value >= low && l.value <= top);
  return html`<figure class="course-chart" data-chart=${chart.name}>
    <figcaption><strong>${title}</strong> <span class="quiet">${UNITS[/** @type {keyof typeof UNITS} */ (chart.unit)]}, up ${chart.up}, down ${chart.down}</span> ${seriesKey(chart)}</figcaption>
    <svg width=${wide} height=${high} role="img" aria-label="${title}: ${saidOf(chart)}">
      ${marks.map((/** @type {number} */ d) => svg`<line class="grid" x1=${x(d)} x2=${x(d)} y1="0" y2=${high} />`)}
      ${ticks(low, top, 4).map((v) => svg`<line class="grid" x1=${left} x2=${right} y1=${y(v)} y2=${y(v)} /><text x=${left - 0.4 * rem} y=${y(v) + 0.3 * rem} text-anchor="end">${tickWords(chart, v)}</text>`)}
      ${usualHealing(chart, x, lastDay, high)}
      ${chart.series.map((s, i) => svg`<path class="ahead-band${i ? " second" : ""}" d=${bandPath(s.forecast, x, y, lastDay)} />`)}
      <line class="today" x1=${x(bone.today)} x2=${x(bone.today)} y1="0" y2=${high} />
      ${limits.map((l) => svg`<line class="limit" x1=${left} x2=${right} y1=${y(l.value)} y2=${y(l.value)} /><text class="limit-words" x=${left + 0.3 * rem} y=${y(l.value) + (y(l.value) < 1.2 * rem ? 0.85 : -0.22) * rem}>${l.words}</text>`)}
      ${chart.series.map((s, i) => seriesDrawn(chart, s, i, x, y, lastDay, rem))}
    </svg>
  </figure>`;
}

/** @param {Chart} chart @param {Series} s @param {number} i @param {any} x @param {any} y @param {number} lastDay @param {number} rem */
function seriesDrawn(chart, s, i, x, y, lastDay, rem) {
  const second = i ? " second" : "";
  const shown = s.measured.filter((p) => p.day <= lastDay);
  return svg`
    <path class="planned-line as-planned${second}" d=${linePath(s.planned, x, y, lastDay)} />
    ${s.prescribed ? svg`<path class="planned-line" d=${linePath(s.prescribed, x, y, lastDay)} />` : nothing}
    <path class="ahead-line${second}" d=${linePath(s.forecast.map((p) => [p.day, p.value]), x, y, lastDay)} />
    ${shown.map((p) => {
      const size = 0.3 * rem;
      const [cx, cy] = [x(p.day), y(p.value)];
      return svg`<g class="measured${second}"><line x1=${cx} x2=${cx} y1=${y(p.low)} y2=${y(p.high)} />
        ${i ? svg`<rect x=${cx - size} y=${cy - size} width=${2 * size} height=${2 * size} />` : svg`<circle cx=${cx} cy=${cy} r=${size} />`}
        <title>${s.name}, day ${p.day}: ${valueWords(chart, s, p.value)}</title></g>`;
    })}`;
}

/** @param {Chart & {usual_healing_days?: any}} chart @param {any} x @param {number} lastDay @param {number} high */
function usualHealing(chart, x, lastDay, high) {
  const usual = chart.usual_healing_days;
  if (!usual || usual.low > lastDay) return nothing;
  const from = x(usual.low);
  return svg`<rect class="usual" x=${from} width=${Math.max(1, x(Math.min(usual.high, lastDay)) - from)} y="0" height=${high}><title>bones of this kind heal from day ${Math.round(usual.low)} to day ${Math.round(usual.high)} (mean ± 1 SD)</title></rect>`;
}

/** @param {Chart} chart */
function seriesKey(chart) {
  if (chart.series.length < 2) return nothing;
  return html`<span class="series-key">${chart.series.map((s, i) => html`<span>${i ? "□" : "○"} ${s.name}</span>`)}</span>`;
}

/** The last reading of each line in words, for whoever does not see the chart. @param {Chart} chart */
function saidOf(chart) {
  const said = chart.series.flatMap((s) => {
    const last = s.measured[s.measured.length - 1];
    return last ? [`${s.name} on day ${last.day}: ${valueWords(chart, s, last.value)}`] : [];
  });
  return said.length ? said.join("; ") : "nothing measured yet";
}

/** @param {Chart} chart @param {number} v */
function tickWords(chart, v) {
  return chart.unit === "ratio" ? v.toFixed(Math.abs(v * 10 - Math.round(v * 10)) < 1e-9 ? 1 : 2) : chart.name === "alignment" ? fixed(Math.abs(v), 0) : fixed(v, 0);
}

function legend() {
  return html`<p class="chart-legend small quiet">
    <span class="key measured-key">measured ± 95 %</span> <span class="key planned-key">prescribed</span>
    <span class="key as-planned-key">planned or usual</span> <span class="key ahead-key">ahead, 95 % band</span>
    <span class="key limit-key">limit</span> <span class="key usual-key">usual healing</span>
  </p>`;
}
