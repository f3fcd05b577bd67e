/**
 * The case as this window has it: what is undone and redone, computed by the server, and saved.
 *
 * Nothing is lost: what is not yet acknowledged by the server is kept in the window's own storage and sent again.
 * @module
 */
import { Latest, call, failureOf } from "../api.js";
import { changed, same } from "../models/case_edit.js";
import { begun, done, redone, undone } from "../models/history.js";

/** @typedef {import("../models/case_edit.js").Draft} Draft */
/** @typedef {import("../models/case_edit.js").Change} Change */
/** @typedef {import("../api.js").Failure} Failure */

/** Wait after the last change before it is saved. [ms] */
const SAVE_AFTER = 700;
/** Wait before a failed save is tried again. [ms] */
const TRY_AGAIN = 3000;

export class WorkingCase extends EventTarget {
  /** @param {any} answer as GET /api/cases/{id} */
  constructor(answer) {
    super();
    this.id = answer.id;
    this.version = answer.version;
    this.acceptance = answer.acceptance;
    /** @type {Draft} */
    this.saved = { case: answer.case, alterations: answer.alterations ?? [] };
    /** @type {import("../models/history.js").History<Draft>} */
    this.history = begun(this.saved);
    /** @type {"saved"|"waiting"|"saving"|"failed"|"conflict"} */
    this.saving = "saved";
    /** @type {Failure|null} */
    this.trouble = null;
    /** @type {any} */
    this.answer = null;
    /** @type {Failure|null} */
    this.answer_trouble = null;
    this.computing = true;
    /** @type {any} */
    this.days = null;
    /** @type {Failure|null} */
    this.days_trouble = null;
    /** @type {any[]|null} */
    this.candidates = null;
    /** @type {Failure|null} */
    this.candidates_trouble = null;
    /** Drift as forecast for this plan. @type {any} */
    this.drift = null;
    /** @type {Failure|null} */
    this.drift_trouble = null;
    /** What the search says beside the candidates: how sure the end is, what is worth measuring again. @type {any} */
    this.search = null;
    this.session = crypto.randomUUID();
    this.recovered = false;
    this.why = "";
    this.timer = 0;
    this.compute = new Latest(
      (/** @type {Draft} */ draft) => call("POST", "/api/work/plan", { session: this.session, ...sent(draft) }),
      (answer) => this.#answered(answer),
      (error) => this.#unanswered(error),
    );
    this.#recover();
  }

  /** @returns {Draft} */
  get draft() {
    return this.history.now;
  }

  get bones() {
    return this.answer?.plan?.bones ?? [];
  }

  get base() {
    return this.answer?.base ?? "";
  }

  /** @param {Draft} draft @param {string} words */
  edit(draft, words) {
    if (same(draft, this.draft)) return;
    this.history = done(this.history, draft, words);
    this.why = words;
    this.#touched();
  }

  /** @param {Change} change @param {string} words */
  change(change, words) {
    this.edit(changed(this.draft, change, this.bones), words);
  }

  undo() {
    const words = this.history.past.at(-1)?.words;
    if (words === undefined) return;
    this.history = undone(this.history);
    this.why = `undone: ${words}`;
    this.#touched();
  }

  redo() {
    const words = this.history.future[0]?.words;
    if (words === undefined) return;
    this.history = redone(this.history);
    this.why = words;
    this.#touched();
  }

  recompute() {
    this.computing = true;
    this.compute.ask(this.draft);
  }

  #touched() {
    this.recompute();
    this.#keepAside();
    this.#saveSoon(SAVE_AFTER);
    this.#tell();
  }

  /** @param {any} answer */
  async #answered(answer) {
    this.answer = answer;
    this.answer_trouble = null;
    this.computing = false;
    this.candidates = null;
    this.candidates_trouble = null;
    this.search = null;
    this.drift = null;
    this.drift_trouble = null;
    this.#tell();
    if (!answer.plan) {
      this.days = null;
      return this.#tell();
    }
    try {
      const days = await call("POST", "/api/work/days", { session: this.session, base: answer.base });
      if (this.answer !== answer) return;
      this.days = days;
      this.days_trouble = null;
    } catch (error) {
      if (this.answer !== answer) return;
      this.days = null;
      this.days_trouble = failureOf(error);
    }
    this.#tell();
  }

  /** @param {unknown} error */
  #unanswered(error) {
    this.answer_trouble = failureOf(error);
    this.computing = false;
    this.#tell();
    if (this.answer_trouble.code === "no-answer" || this.answer_trouble.code === "busy")
      setTimeout(() => this.recompute(), TRY_AGAIN);
  }

  /** Is anything still to be looked for once the plan stands? @param {boolean} candidates */
  lookAheadWanted(candidates) {
    if (!this.answer?.plan) return false;
    return (!this.drift && !this.drift_trouble) || (candidates && !this.candidates && !this.candidates_trouble);
  }

  /** What takes seconds: the drift of this plan, and other plans. @param {boolean} candidates */
  async lookAhead(candidates) {
    const answer = this.answer;
    const ask = async (/** @type {string} */ path, /** @type {(said: any) => void} */ took, /** @type {(failure: Failure) => void} */ failed) => {
      try {
        const said = await call("POST", path, { session: this.session, base: answer.base });
        if (this.answer === answer) took(said);
      } catch (error) {
        if (this.answer === answer) failed(failureOf(error));
      }
      this.#tell();
    };
    const asked = [];
    if (!this.drift && !this.drift_trouble) asked.push(ask("/api/work/drift", (said) => (this.drift = said), (failure) => (this.drift_trouble = failure)));
    if (candidates && !this.candidates && !this.candidates_trouble) {
      const took = (/** @type {any} */ said) => {
        this.candidates = said.candidates;
        this.search = said;
      };
      asked.push(ask("/api/work/candidates", took, (failure) => (this.candidates_trouble = failure)));
    }
    await Promise.all(asked);
  }

  get dirty() {
    return !same(this.draft, this.saved);
  }

  /** @param {number} wait */
  #saveSoon(wait) {
    window.clearTimeout(this.timer);
    if (this.saving === "conflict") return;
    if (!this.dirty) {
      if (this.saving === "waiting") this.saving = "saved";
      return;
    }
    if (this.saving !== "saving") this.saving = this.saving === "failed" ? "failed" : "waiting";
    this.timer = window.setTimeout(() => void this.save(), wait);
  }

  /** @param {number} [base_version] given when a conflict is settled @returns {Promise<boolean>} */
  async save(base_version) {
    window.clearTimeout(this.timer);
    if (this.saving === "saving") return false;
    if (!this.dirty && base_version === undefined) return true;
    const draft = this.draft;
    this.saving = "saving";
    this.#tell();
    try {
      const said = await call("PUT", `/api/cases/${encodeURIComponent(this.id)}`, {
        base_version: base_version ?? this.version,
        ...sent(draft),
        why: this.why,
      });
      this.version = said.version;
      this.acceptance = said.acceptance ?? this.acceptance;
      this.saved = draft;
      this.saving = "saved";
      this.trouble = null;
      this.#keepAside();
      if (this.dirty) this.#saveSoon(SAVE_AFTER);
      return true;
    } catch (error) {
      this.trouble = failureOf(error);
      this.saving = this.trouble.code === "conflict" ? "conflict" : "failed";
      if (["no-answer", "busy"].includes(this.trouble.code)) this.#saveSoon(TRY_AGAIN);
      return false;
    } finally {
      this.#tell();
    }
  }

  /** Settle a conflict: this draft goes on from the other window's version. @param {Draft} draft @param {number} version @param {string} words */
  async settle(draft, version, words) {
    this.saving = "waiting";
    this.version = version;
    if (!same(draft, this.draft)) this.history = done(this.history, draft, words);
    this.why = words;
    this.recompute();
    await this.save(version);
  }

  /** Take what another window or an acceptance has stored. @param {any} answer as GET case @param {string} words */
  taken(answer, words) {
    const draft = { case: answer.case, alterations: answer.alterations ?? [] };
    this.version = answer.version;
    this.acceptance = answer.acceptance;
    this.saved = draft;
    this.saving = "saved";
    this.trouble = null;
    if (!same(draft, this.draft)) this.history = done(this.history, draft, words);
    this.#keepAside();
    this.recompute();
    this.#tell();
  }

  get #key() {
    return `limbwright-unsaved:${this.id}`;
  }

  #keepAside() {
    try {
      if (this.dirty) sessionStorage.setItem(this.#key, JSON.stringify({ version: this.version, draft: this.draft }));
      else sessionStorage.removeItem(this.#key);
    } catch {
      // Storage may be full or forbidden; saving to the server goes on without it.
    }
  }

  #recover() {
    try {
      const kept = JSON.parse(sessionStorage.getItem(this.#key) ?? "null");
      if (!kept || same(kept.draft, this.saved)) return;
      this.history = done(this.history, kept.draft, "unsaved changes of this window");
      this.version = kept.version;
      this.why = "unsaved changes of this window";
      this.recovered = true;
      this.#saveSoon(SAVE_AFTER);
    } catch {
      sessionStorage.removeItem(this.#key);
    }
  }

  #tell() {
    this.dispatchEvent(new Event("change"));
  }
}

/** @param {Draft} draft */
function sent(draft) {
  return { case: draft.case, alterations: draft.alterations };
}
