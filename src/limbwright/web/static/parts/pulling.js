/**
 * A thing on the film being pulled: the change it asks for, what the server says to it, and letting go.
 * @module
 */
import { Latest, call, failureOf } from "../api.js";

/** @typedef {import("./film_pane.js").FilmPane} Pane */
/** @typedef {import("../pages/table.js").LightTable} Table */

export class Pulling {
  /** @param {Table} table */
  constructor(table) {
    this.table = table;
    /** @type {{pane: Pane, handle: any, change: any, reply: any, failure: any}|null} change is null once let go */
    this.now = null;
    this.asking = new Latest(
      (/** @type {any} */ body) => call("POST", "/api/work/drag", body),
      (reply, body) => this.#answered(reply, body),
      (error) => this.#refused(error),
    );
  }

  get reply() {
    return this.now?.reply ?? null;
  }

  /** True while the hand holds something and the server has answered. */
  get live() {
    return Boolean(this.now?.change && this.now.reply);
  }

  /** The new answer is there: what was shown in the meantime goes. */
  settled() {
    if (this.now?.change === null) this.now = null;
  }

  /** @param {Pane} pane @param {any} handle @param {[number, number]} moved @param {string} phase */
  pulled(pane, handle, moved, phase) {
    if (phase === "cancel") this.#letGo();
    else if (phase === "end") this.#kept(handle, handle.change(moved));
    else {
      const { table } = this;
      const change = handle.change(moved);
      this.now = { pane, handle, change, reply: this.now?.reply ?? null, failure: undefined };
      this.asking.ask({ session: table.work.session, base: table.work.base, change, stage: table.stage, projection: null });
    }
    this.table.paintSoon();
  }

  #letGo() {
    this.now = null;
    this.asking.drop();
  }

  /** @param {any} handle @param {any} change */
  #kept(handle, change) {
    this.asking.drop();
    const failed = this.now?.failure;
    const taken = this.now?.reply?.limited ? this.now.reply.change : change;
    this.now = failed ? null : this.now && { ...this.now, change: null };
    this.table.says = failed ? `${failed.found} ${failed.next}` : "";
    if (failed) return;
    this.table.work.change(taken, handle.words.split(",")[0]);
    if (taken.kind === "landmark") this.table.placing.offer(taken);
  }

  /** @param {any} reply @param {any} body */
  #answered(reply, body) {
    if (!this.now || this.now.change === null || body.base !== this.table.work.base) return;
    this.now = { ...this.now, reply, failure: undefined };
    this.table.paintSoon();
  }

  /** @param {unknown} error */
  #refused(error) {
    const failure = failureOf(error);
    if (failure.code === "session-gone") return this.table.work.recompute();
    if (this.now?.change) this.now = { ...this.now, failure };
    this.table.paintSoon();
  }

  /** What stands beside the thing that is held in one pane. @param {Pane} pane */
  wordsFor(pane) {
    const held = this.now;
    if (!held?.change || held.pane !== pane) return null;
    const { change, reply, failure } = held;
    const { key } = held.handle;
    if (failure) return { key, words: `${failure.found} ${failure.next}`, stopped: true };
    const limited = reply?.limited;
    if (limited) return { key, words: `stops at ${limited.taken.toFixed(1)} ${limited.unit}: ${limited.found} ${limited.next}`, stopped: true };
    const number = change.below_joint_mm ?? change.from_osteotomy_mm ?? change.across_mm;
    if (number === undefined) return { key, words: held.handle.words, stopped: false };
    const what = "below_joint_mm" in change ? "below the joint" : change.kind === "path" ? "across" : "from the osteotomy";
    return { key, words: `${number.toFixed(1)} mm ${what}`, stopped: false };
  }
}
