/**
 * Calls to the workbench's own server: one shape for every answer and every error.
 * @module
 */

/** @typedef {{code: string, found: string, where: string, unit: string, next: string, problems: any[], differs: any[], stops?: any[], version?: number}} Failure */

/** What went wrong, in the server's own words. */
export class Refused extends Error {
  /** @param {Failure} failure @param {number} status */
  constructor(failure, status) {
    super(failure.found);
    this.failure = failure;
    this.status = status;
  }

  get code() {
    return this.failure.code;
  }
}

/** @type {Failure} */
const NO_ANSWER = {
  code: "no-answer",
  found: "the workbench does not answer.",
  where: "this computer",
  unit: "",
  next: "What you changed is kept in this window. Start the workbench again; this page goes on by itself.",
  problems: [],
  differs: [],
};

/** What every change carries. @returns {string} */
export function token() {
  return document.querySelector('meta[name="csrf-token"]')?.getAttribute("content") ?? "";
}

/**
 * @param {string} method @param {string} path @param {any} [body] JSON value or FormData
 * @param {{signal?: AbortSignal, keepalive?: boolean}} [how] @returns {Promise<any>}
 * @throws {Refused}
 */
export async function call(method, path, body, how = {}) {
  const send = () => {
    /** @type {Record<string, string>} */
    const headers = { Accept: "application/json" };
    if (method !== "GET") headers["X-CSRF-Token"] = token();
    const form = body instanceof FormData;
    if (body !== undefined && !form) headers["Content-Type"] = "application/json";
    return fetch(path, {
      method,
      headers,
      body: body === undefined ? undefined : form ? body : JSON.stringify(body),
      credentials: "same-origin",
      ...how,
    });
  };
  let answer = await attempt(send, how.signal);
  if (answer.status === 403 && method !== "GET") {
    // A server that was started anew has given out new tokens: ask for one and try once more.
    const said = await answer.clone().json().catch(() => null);
    if (said?.code === "csrf" && (await renewed())) answer = await attempt(send, how.signal);
  }
  for (const wait of BUSY_WAITS) {
    if (!mayWait(path, answer.status)) break;
    await new Promise((go) => setTimeout(go, wait));
    answer = await attempt(send, how.signal);
  }
  if (answer.status === 204) return null;
  const said = await answer.json().catch(() => null);
  if (answer.ok) return said;
  throw new Refused(
    { ...NO_ANSWER, code: "fault", found: `the workbench answered ${answer.status}.`, next: "Try again.", ...(said ?? {}) },
    answer.status,
  );
}

/** Waits before a server that is busy reading films or planning is asked again. [ms] */
const BUSY_WAITS = [400, 800, 1600, 3200];

/** Only what changes nothing is asked again. @param {string} path @param {number} status */
function mayWait(path, status) {
  return status === 503 && /^\/api\/(films|work)\//.test(path);
}

/** @param {() => Promise<Response>} send @param {AbortSignal} [signal] @returns {Promise<Response>} */
async function attempt(send, signal) {
  try {
    return await send();
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Refused(NO_ANSWER, 0);
  }
}

/** @returns {Promise<boolean>} */
async function renewed() {
  try {
    const answer = await fetch("/api/session", { credentials: "same-origin" });
    const said = await answer.json();
    if (!said.csrf) return false;
    document.querySelector('meta[name="csrf-token"]')?.setAttribute("content", said.csrf);
    return true;
  } catch {
    return false;
  }
}

/** @param {unknown} error @returns {Failure} */
export function failureOf(error) {
  if (error instanceof Refused) return error.failure;
  return { ...NO_ANSWER, code: "page", found: String(error), where: "this page", next: "Load the page again." };
}

/**
 * Calls where only the newest matters: while one is under way, the latest waits and the ones between are dropped.
 * @template A, R
 */
export class Latest {
  /** @param {(a: A) => Promise<R>} work @param {(r: R, a: A) => void} took @param {(e: unknown, a: A) => void} failed */
  constructor(work, took, failed) {
    this.work = work;
    this.took = took;
    this.failed = failed;
    /** @type {{a: A} | null} */
    this.waiting = null;
    this.busy = false;
  }

  /** @param {A} a */
  ask(a) {
    this.waiting = { a };
    if (!this.busy) void this.#go();
  }

  drop() {
    this.waiting = null;
  }

  async #go() {
    this.busy = true;
    while (this.waiting) {
      const { a } = this.waiting;
      this.waiting = null;
      try {
        const r = await this.work(a);
        if (!this.waiting) this.took(r, a);
      } catch (error) {
        if (!this.waiting) this.failed(error, a);
      }
    }
    this.busy = false;
  }
}
