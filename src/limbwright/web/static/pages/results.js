/**
 * Practice audit: every answer with its number, its interval and its cases; where there is too little, it says so.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render, svg } from "../vendor/lit-html/lit-html.js";
import { findingList, trouble } from "../parts/findings.js";
import { bandPath, linePath, scale, ticks } from "../models/chart_axes.js";
import { amountWords, counted, fixed, sentence } from "../models/wording.js";

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const r = data.results;
  const query = (/** @type {any} */ more = {}) => new URLSearchParams({ period: r.period, invented: String(r.invented), ...more }).toString();
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  let taken = "";

  /** @param {any} offer */
  async function take(offer) {
    try {
      await call("PUT", "/api/profile", { base_version: r.profile_version, changes: { [offer.setting]: offer.own }, why: `own results, n = ${offer.n}` });
      r.profile_version += 1;
      taken = offer.setting;
      failure = null;
    } catch (error) {
      failure = failureOf(error);
    }
    show();
  }

  /** @param {string} title @param {string[]} sheets @param {unknown} inner @param {string} method */
  function section(title, sheets, inner, method) {
    return html`<section class="card result-section" aria-label=${title}><div class="row apart"><h2>${title}</h2><span class="row small">${sheets.map((s) => html`<a href="/api/results/${s}.csv?${query()}" download>CSV${sheets.length > 1 ? `, ${s.replaceAll("_", " ")}` : ""}<span class="for-readers"> of ${s.replaceAll("_", " ")}</span></a>`)}</span></div>
      ${inner}${method ? html`<p class="small quiet">${method}</p>` : nothing}</section>`;
  }
  /** @param {string[]} header @param {unknown[]} rows @param {string} none */
  function tableOf(header, rows, none = "No bone to tell of yet.") {
    return rows.length ? html`<table class="compact"><thead><tr>${header.map((h) => (h ? html`<th scope="col">${h}</th>` : html`<td></td>`))}</tr></thead><tbody>${rows}</tbody></table>` : html`<p class="quiet">${none}</p>`;
  }

  function show() {
    render(
      html`<div class="stack">
        <form class="row" method="get" action="/results">
          <strong>${counted(r.treated_bones, "treated bone")}, ${counted(r.cases_in_all, "case")}</strong>
          <label class="row">Periods <select name="period" @change=${submit}>${data.periods.map((/** @type {string} */ p) => html`<option ?selected=${p === r.period}>${p}</option>`)}</select></label>
          <label><input type="checkbox" name="invented" value="true" ?checked=${r.invented} @change=${submit} /> count invented cases too${r.invented_left_out ? ` (${r.invented_left_out} left out)` : ""}</label>
          <span class="quiet small">Groups without any bone stand in the CSV only.</span> <a href="/api/results/treated_bones.csv?${query()}" download>All treated bones (CSV)</a>
        </form>
        ${trouble(failure)}
        ${r.left_out.length ? html`<section class="card"><h2>Not counted</h2><ul>${r.left_out.map((/** @type {any} */ l) => html`<li><a href="/cases/${encodeURIComponent(l.case)}/table">${l.case}</a>: ${l.found} ${l.next}</li>`)}</ul></section>` : nothing}
        ${r.findings.length ? html`<section class="card" aria-label="Findings"><h2>Findings</h2>${findingList(r.findings)}</section>` : nothing}
        ${section("Healing index", ["healing_index"], tableOf(["Group", "n", "not healed", "median, days/cm", "mean ± SD", "Cases"], told(r.healing_index).map(indexRow)), r.healing_index[0]?.method ?? "")}
        <div class="three-columns">${r.healing_curves.map(curvePart)}</div>
        ${section("Length and alignment against the plan", ["accuracy"], tableOf(["Outcome", "Group", "n", "Mean difference", "95 % of bones lie between", "within tolerance", "Cases"], told(r.accuracy).map(accuracyRow)), r.accuracy[0]?.method ?? "")}
        ${section("Drift with and without blocking screws", ["drift_and_blocking_screws"], tableOf(["Group", "Plane", "n with, without", "Mean drift with", "without", "Cases"], told(r.drift_and_blocking_screws).map(driftRow)), r.drift_and_blocking_screws[0]?.method ?? "")}
        ${calfPart()}
        ${section("Problems, obstacles, complications", ["complications"], tableOf(["Event", "Group", "n", "Share of bones with one", "Cases with one"], told(r.complications).map(rateRow)), r.complications[0]?.method ?? "")}
        <div class="three-columns">${r.periods.map(funnelPart)}</div>
        ${offersPart()}
      </div>`,
      root,
    );
  }

  /** @param {any} one */
  const indexRow = (one) => {
    const d = one.days_per_cm;
    return html`<tr><th scope="row">${one.group.words}</th><td>${one.n}</td><td>${one.not_healed}</td>
      ${d.refused ? html`<td colspan="2" class="quiet">${d.refused}</td>` : html`<td>${fixed(d.median, 1)} ${ends(d.median_interval, 1)}</td><td>${fixed(d.mean, 1)} ± ${fixed(d.sd, 1)}</td>`}<td>${caseLinks(one.cases, one.cases_in_all)}</td></tr>`;
  };
  /** @param {any} one */
  const accuracyRow = (one) => {
    const a = one.agreement;
    return html`<tr><th scope="row">${one.outcome}</th><td>${one.group.words}</td><td>${one.n}</td>
      ${a.refused ? html`<td colspan="3" class="quiet">${a.refused}</td>` : html`<td>${small(a.bias)}</td><td>${small(a.lower_limit)} to ${small(a.upper_limit)}</td><td>${shareWords(a.within_tolerance)}</td>`}<td>${caseLinks(one.cases, one.cases_in_all)}</td></tr>`;
  };
  /** @param {any} one */
  const driftRow = (one) => html`<tr><th scope="row">${one.group.words}</th><td>${one.plane}</td><td>${one.n_with}, ${one.n_without}</td>
    ${one.drift.refused ? html`<td colspan="2" class="quiet">${one.drift.refused}</td>` : html`<td>${small(one.drift.mean_with)}</td><td>${small(one.drift.mean_without)}</td>`}<td>${caseLinks([...one.cases_with, ...one.cases_without], one.cases_with_in_all + one.cases_without_in_all)}</td></tr>`;
  /** @param {any} one */
  const rateRow = (one) => html`<tr><th scope="row">${one.event}</th><td>${one.group.words}</td><td>${one.n}</td><td>${shareWords(one.rate)}</td><td>${caseLinks(one.cases_with, one.cases_with_in_all)}</td></tr>`;

  /** @param {any} one */
  function curvePart(one) {
    const c = one.curve;
    const title = `Time to healing, ${one.group.words}`;
    return section(title, ["healing_curve"], c.refused ? html`<p class="quiet">${one.n} bones, ${one.healed} healed: ${c.refused}.</p>${caseLinks(one.cases, one.cases_in_all)}` : html`${healingChart(c, title)}<p>Half of ${one.n} healed by day ${c.median_days ?? "not reached"} ${ends(c.median_interval, 0)}.</p>${caseLinks(one.cases, one.cases_in_all)}`, one.method);
  }

  function calfPart() {
    const calf = r.calf_release;
    const f = calf.fit;
    return section("Calf release against length gained", ["calf_release", "calf_release_curve"], f.refused ? html`<p class="quiet">${calf.released} of ${calf.n} released: ${f.refused}.</p>${caseLinks(calf.cases, calf.cases_in_all)}` : html`
      ${xyChart({ title: "Chance of a calf release by length gained", x: f.curve.gained_mm, y: f.curve.chance, low: f.curve.low, high: f.curve.high, xWords: "mm gained", dash: false })}
      <p>Odds ratio for 10 mm: ${fixed(f.odds_ratio_per_10_mm, 2)} ${ends(f.odds_ratio_interval, 2)}. ${f.even_chance_at_mm === null ? "" : `Half are released at ${fixed(f.even_chance_at_mm, 0)} mm.`} Released: ${caseLinks(calf.cases_released, calf.cases_released_in_all)}</p>`, calf.method);
  }

  /** @param {any} one */
  function funnelPart(one) {
    return section(`${sentence(one.event)}, by ${r.period}`, ["periods"], html`${one.pooled.refused ? html`<p class="quiet">${one.n} bones: ${one.pooled.refused}.</p>` : html`<p>All: ${shareWords(one.pooled)}.</p>${funnelChart(one)}`}
      ${tableOf([sentence(r.period), "n", "Share", "Place", "Cases with one"], one.periods.map((/** @type {any} */ p) => html`<tr><th scope="row">${p.period}</th><td>${p.n}</td>${p.point.refused ? html`<td colspan="2" class="quiet">${p.point.refused}</td>` : html`<td>${fixed(100 * p.point.share, 0)} %</td><td>${p.point.place}</td>`}<td>${caseLinks(p.cases_with, p.cases_with_in_all)}</td></tr>`))}`, one.method);
  }

  function offersPart() {
    const may = data.user.role === "sign";
    return section("What this offers to the practice profile", ["offers"], tableOf(["Setting", "Present", "Own result", "n", ""], r.offers.map((/** @type {any} */ o) => html`<tr><th scope="row">${o.setting.replaceAll("_", " ")}</th><td>${o.present} ${o.unit}</td><td>${fixed(o.own, 1)} ${o.unit} ${ends(o.interval, 1)}${o.present_is_plausible ? "; the present value lies within" : ""}</td><td>${o.n}</td>
      <td>${taken === o.setting ? html`<span class="badge planned">in the profile now</span>` : may ? html`<button type="button" class="small" @click=${() => void take(o)}>Take into the profile</button>` : nothing}</td></tr>`), "Nothing to offer yet: too few bones, or nothing that a setting accepts."), "Nothing is changed until it is taken.");
  }

  root.replaceChildren();
  show();
}

/** Groups in which there is any bone; the CSV has them all. @param {any[]} rows */
function told(rows) {
  return rows.filter((row) => (row.n ?? row.n_with + row.n_without) + (row.not_healed ?? 0) > 0);
}

/** @param {Event} e */
function submit(e) {
  /** @type {HTMLSelectElement|HTMLInputElement} */ (e.target).form?.requestSubmit();
}

/** @param {string[]} cases the first ones @param {number} inAll */
function caseLinks(cases, inAll) {
  const links = [...new Set(cases)].map((c) => html`<a href="/cases/${encodeURIComponent(c)}/course">${c}</a>`);
  if (!links.length) return html`<span class="quiet">none</span>`;
  const shown = html`<span class="case-links">${links}</span>`;
  const more = inAll > cases.length ? html`<p class="small quiet">and ${inAll - cases.length} more, in the CSV</p>` : nothing;
  return inAll <= 3 ? shown : html`<details><summary>${counted(inAll, "case")}</summary>${shown}${more}</details>`;
}

/** @param {{low: number|null, high: number|null}|null} interval @param {number} places */
function ends(interval, places) {
  if (!interval) return nothing;
  const end = (/** @type {number|null} */ v) => (v === null ? "open" : fixed(v, places));
  return html`<span class="quiet">(${end(interval.low)} to ${end(interval.high)})</span>`;
}

/** @param {any} amount */
function small(amount) {
  if (!amount) return "open";
  return amount.mm !== undefined ? `${fixed(amount.mm, 1)} mm${amount.direction ? ` ${amount.direction}` : ""}` : amountWords(amount);
}

/** @param {any} share */
function shareWords(share) {
  if (share.refused) return html`<span class="quiet">${share.refused}</span>`;
  return html`${share.count} of ${share.n}, ${fixed(100 * share.share, 0)} % <span class="quiet">(${fixed(100 * share.interval.low, 0)} to ${fixed(100 * share.interval.high, 0)} %)</span>`;
}

const WIDE = 460;
const HIGH = 190;
const LEFT = 44;

/** @param {any} c @param {string} title */
function healingChart(c, title) {
  return xyChart({ title, x: c.days, y: c.healed_share, low: c.low_share, high: c.high_share, xWords: "days after the operation", dash: true });
}

/** A share against something, with its band. @param {{title: string, x: number[], y: number[], low: (number|null)[], high: (number|null)[], xWords: string, dash: boolean}} what `dash`: the share stays until the next step */
function xyChart({ title, x: xs, y: ys, low, high, xWords, dash }) {
  const [first, last] = dash ? [0, Math.max(1, ...xs)] : [Math.min(...xs), Math.max(...xs)];
  const x = scale(first, last, LEFT, WIDE - 8);
  const y = scale(0, 1, HIGH - 34, 8);
  /** @param {(number|null)[]} values */
  const stepped = (values) => {
    const points = xs.map((d, i) => [d, values[i] ?? 0]);
    if (!dash) return points;
    const start = points[0]?.[0] > 0 ? [[0, 0], ...points] : points;
    return start.flatMap((p, i) => (i ? [[p[0], start[i - 1][1]], p] : [p]));
  };
  const lows = stepped(low);
  const highs = stepped(high);
  const band = lows.map(([day, v], i) => ({ day, value: v, low: v, high: highs[i][1] }));
  return html`<svg class="result-chart" viewBox="0 0 ${WIDE} ${HIGH}" role="img" aria-label=${title}>
    ${ticks(0, 1, 5).map((v) => svg`<line class="grid" x1=${LEFT} x2=${WIDE - 8} y1=${y(v)} y2=${y(v)}/><text x=${LEFT - 5} y=${y(v) + 4} text-anchor="end">${Math.round(100 * v)} %</text>`)}
    ${ticks(first, last, 6).map((v) => svg`<text x=${x(v)} y=${HIGH - 18} text-anchor="middle">${v}</text>`)}
    <text x=${(LEFT + WIDE) / 2} y=${HIGH - 3} text-anchor="middle">${xWords}</text>
    <path class="band" d=${bandPath(band, x, y, last)} /><path class="curve" d=${linePath(stepped(ys), x, y, last)} /></svg>`;
}

/** @param {any} one */
function funnelChart(one) {
  const seen = one.periods.filter((/** @type {any} */ p) => !p.point.refused);
  if (!seen.length) return nothing;
  const most = Math.max(...seen.map((/** @type {any} */ p) => Math.max(p.point.share, p.point.far_limits.high)));
  const x = scale(-0.5, seen.length - 0.5, LEFT, WIDE - 8);
  const y = scale(0, Math.min(1, most * 1.05) || 1, HIGH - 34, 8);
  const w = 0.32 * (x(1) - x(0));
  const every = Math.ceil(seen.length / 7); // more names than that run into each other
  return html`<svg class="result-chart" viewBox="0 0 ${WIDE} ${HIGH}" role="img" aria-label="${one.event} by period with limits">
    ${ticks(0, Math.min(1, most * 1.05) || 1, 4).map((v) => svg`<line class="grid" x1=${LEFT} x2=${WIDE - 8} y1=${y(v)} y2=${y(v)}/><text x=${LEFT - 5} y=${y(v) + 4} text-anchor="end">${fixed(100 * v, 0)} %</text>`)}
    <line class="near" x1=${LEFT} x2=${WIDE - 8} y1=${y(one.pooled.share)} y2=${y(one.pooled.share)} />
    ${seen.map((/** @type {any} */ p, /** @type {number} */ i) => svg`
      <path class="near" d="M${x(i) - w} ${y(p.point.limits.high)}h${2 * w}M${x(i) - w} ${y(p.point.limits.low)}h${2 * w}" />
      <path class="far" d="M${x(i) - w} ${y(p.point.far_limits.high)}h${2 * w}M${x(i) - w} ${y(p.point.far_limits.low)}h${2 * w}" />
      <circle class="dot ${p.point.place === "within" ? "" : "outside"}" cx=${x(i)} cy=${y(p.point.share)} r="4.5"><title>${p.period}: ${p.point.count} of ${p.n}, ${p.point.place}</title></circle>
      ${i % every ? nothing : svg`<text x=${x(i)} y=${HIGH - 18} text-anchor="middle">${p.period}</text>`}`)}
    <text x=${(LEFT + WIDE) / 2} y=${HIGH - 3} text-anchor="middle">grey: 95 % limits; red: 99.8 % limits; ring: share</text></svg>`;
}
