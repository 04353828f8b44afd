// @ts-check
/**
 * What this tablet keeps: observations that the service has not acknowledged, what is needed to open a session's page
 * without a network, and settings. No name of a person, and no text of a note once it is acknowledged.
 *
 * @typedef {import("./known.js").Observation} Observation
 * @typedef {{ session: string, staff: number, seq: number, id: string, dev: string, run: string, made: number,
 *   observation: Observation, trouble: string | null }} Row  an observation that is not acknowledged
 * @typedef {{ at_ms: number, step: number }} Jump  the wall clock left the steady one by `step` milliseconds
 * @typedef {{ session: string, staff: number, seq: number, base: number | null, jumps: Jump[], page: string, log: Observation[],
 *   count: number, head: string }} Kept  `seq`: the highest number given; `base`: wall time at session time 0
 */

const NAME = "baywitness";
const VERSION = 1;
/** Pages of one tablet tell each other here what changed on the disk. */
export const CHANNEL = "baywitness";
/** After this long storage counts as dead. */
const PATIENCE_MS = 2_500;

export class Store {
  /** @type {Promise<IDBDatabase> | null} */
  #db = null;

  #open() {
    this.#db ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open(NAME, VERSION);
      asked.onupgradeneeded = () => {
        const db = asked.result;
        // A later version adds to these and drops nothing: rows may wait here for longer than a version lives.
        if (!db.objectStoreNames.contains("outbox")) db.createObjectStore("outbox", { keyPath: ["session", "staff", "seq"] });
        if (!db.objectStoreNames.contains("sessions")) db.createObjectStore("sessions", { keyPath: ["session", "staff"] });
        if (!db.objectStoreNames.contains("settings")) db.createObjectStore("settings");
      };
      asked.onsuccess = () => {
        const db = asked.result;
        db.onclose = () => this.forget();
        db.onversionchange = () => {
          db.close();
          this.forget();
        };
        resolve(db);
      };
      asked.onerror = () => reject(asked.error);
      asked.onblocked = () => reject(new Error("another page holds an older store"));
    });
    return this.#db;
  }

  /** The handle is dead: the next use opens a new one. */
  forget() {
    this.#db = null;
  }

  /**
   * Runs one transaction and answers once it is complete. A dead handle is opened again, once.
   * @template T
   * @param {string[]} stores @param {IDBTransactionMode} mode
   * @param {(transaction: IDBTransaction, give: (value: T) => void) => void} body
   * @returns {Promise<T>}
   */
  async run(stores, mode, body) {
    try {
      return await this.#once(stores, mode, body);
    } catch {
      this.forget();
      return await this.#once(stores, mode, body);
    }
  }

  /**
   * @template T
   * @param {string[]} stores @param {IDBTransactionMode} mode
   * @param {(transaction: IDBTransaction, give: (value: T) => void) => void} body
   * @returns {Promise<T>}
   */
  #once(stores, mode, body) {
    return new Promise((resolve, reject) => {
      /** @type {IDBTransaction | null} */
      let transaction = null;
      let over = false;
      const late = setTimeout(() => {
        over = true;
        try {
          transaction?.abort();
        } catch {
          // It is being committed and will say how that went: trying again now could write twice.
          return;
        }
        reject(new Error("the tablet's storage does not answer"));
      }, PATIENCE_MS / 2);
      const begin = (/** @type {IDBDatabase} */ db) => {
        if (over) return;
        // Strict: the promise of a record is not given before the disk has it.
        transaction = db.transaction(stores, mode, { durability: "strict" });
        /** @type {any} */
        let given;
        transaction.oncomplete = () => {
          clearTimeout(late);
          resolve(given);
        };
        transaction.onabort = () => reject(transaction?.error ?? new Error("the transaction was broken off"));
        body(transaction, (value) => { given = value; });
      };
      this.#open().then(begin).catch((why) => {
        clearTimeout(late);
        reject(why);
      });
    });
  }

  /**
   * Keeps rows together with the highest number given. New ones (`seq` 0) get their numbers here, where no other tab can
   * take the same; one that has its number keeps it.
   * @param {Row[]} rows all of one session and person @param {number | null} base @param {number} atLeast
   * @returns {Promise<number[]>} their numbers
   */
  keep(rows, base, atLeast) {
    const { session, staff } = rows[0];
    return this.run(["outbox", "sessions"], "readwrite", (transaction, give) => {
      const [outbox, sessions] = [transaction.objectStore("outbox"), transaction.objectStore("sessions")];
      const asked = sessions.get([session, staff]);
      asked.onsuccess = () => {
        /** @type {Kept} */
        const kept = asked.result ?? blank(session, staff);
        let seq = Math.max(kept.seq, atLeast);
        const numbers = rows.map((row) => {
          const number = row.seq > 0 ? row.seq : ++seq;
          seq = Math.max(seq, number);
          outbox.put({ ...row, seq: number, observation: { ...row.observation, seq: number } });
          return number;
        });
        sessions.put({ ...kept, seq, base: base ?? kept.base });
        give(numbers);
      };
    });
  }

  /** Changes what is kept of a session. @param {string} session @param {number} staff @param {(kept: Kept) => Kept} change @returns {Promise<Kept>} */
  change(session, staff, change) {
    return this.run(["sessions"], "readwrite", (transaction, give) => {
      const sessions = transaction.objectStore("sessions");
      const asked = sessions.get([session, staff]);
      asked.onsuccess = () => {
        const changed = change(asked.result ?? blank(session, staff));
        sessions.put(changed);
        give(changed);
      };
    });
  }

  /** All that waits here, and what is kept of one session. @param {string} session @param {number} staff @returns {Promise<{ rows: Row[], kept: Kept | undefined }>} */
  look(session, staff) {
    return this.run(["outbox", "sessions"], "readonly", (transaction, give) => {
      const [rows, kept] = [transaction.objectStore("outbox").getAll(), transaction.objectStore("sessions").get([session, staff])];
      kept.onsuccess = () => give({ rows: rows.result, kept: kept.result });
    });
  }

  /** What is kept of a session, by whomever it was opened last. @param {string} session @returns {Promise<Kept | undefined>} */
  opened(session) {
    return this.run(["sessions"], "readonly", (transaction, give) => {
      const asked = transaction.objectStore("sessions").getAll(IDBKeyRange.bound([session], [session, []]));
      asked.onsuccess = () => give(asked.result.filter((one) => one.page !== "").at(-1));
    });
  }

  /** Moves acknowledged rows to the session's log and marks those in trouble. @param {Row[]} gone @param {Row[]} troubled @returns {Promise<void>} */
  settle(gone, troubled) {
    return this.run(["outbox", "sessions"], "readwrite", (transaction) => {
      const [outbox, sessions] = [transaction.objectStore("outbox"), transaction.objectStore("sessions")];
      for (const { session, staff, seq } of gone) outbox.delete([session, staff, seq]);
      for (const row of troubled) outbox.put(row);
      if (gone.length === 0) return;
      const { session, staff } = gone[0];
      const asked = sessions.get([session, staff]);
      asked.onsuccess = () => {
        /** @type {Kept} */
        const kept = asked.result ?? blank(session, staff);
        sessions.put({ ...kept, log: [...kept.log, ...gone.map((row) => withoutText(row.observation))] });
      };
    });
  }

  /**
   * Takes off this tablet what it keeps of sessions that are over, except where something of them is not sent. Both in
   * one transaction: a tap in another tab comes before, and then keeps them, or after.
   * @param {(one: { session: string, staff: number }) => boolean} isOver
   * @returns {Promise<void>}
   */
  async tidy(isOver) {
    /** @type {string[]} */
    const gone = await this.run(["outbox", "sessions"], "readwrite", (transaction, give) => {
      const [outbox, sessions] = [transaction.objectStore("outbox"), transaction.objectStore("sessions")];
      const [waiting, kept] = [outbox.getAllKeys(), sessions.getAllKeys()];
      kept.onsuccess = () => {
        const unsent = new Set(waiting.result.map((key) => String(/** @type {any[]} */ (key).slice(0, 2))));
        const over = kept.result.filter((key) => {
          const [session, staff] = /** @type {[string, number]} */ (key);
          return !unsent.has(String(key)) && isOver({ session, staff });
        });
        for (const key of over) sessions.delete(key);
        give(over.map((key) => `over ${String(key)}`));
      };
    });
    const tabs = "BroadcastChannel" in globalThis && gone.length > 0 ? new BroadcastChannel(CHANNEL) : null;
    for (const one of gone) tabs?.postMessage(one);
    tabs?.close();
  }

  /** @param {string} name @returns {Promise<any>} */
  setting(name) {
    return this.run(["settings"], "readonly", (transaction, give) => {
      const asked = transaction.objectStore("settings").get(name);
      asked.onsuccess = () => give(asked.result);
    });
  }

  /** @param {string} name @param {unknown} value @returns {Promise<void>} */
  set(name, value) {
    return this.run(["settings"], "readwrite", (transaction) => {
      transaction.objectStore("settings").put(value, name);
    });
  }
}

/** What the disk gets of a row that a page holds. @param {Row & { stored: boolean, failed: boolean }} held @returns {Row} */
export function asRow({ stored: _stored, failed: _failed, ...row }) {
  return row;
}

/** @param {string} session @param {number} staff @returns {Kept} */
function blank(session, staff) {
  return { session, staff, seq: 0, base: null, jumps: [], page: "", log: [], count: 0, head: "" };
}

/** An observation as it may stay on the tablet once acknowledged: without its words. @param {Observation} seen @returns {Observation} */
export function withoutText(seen) {
  const { text, ...act } = seen.act;
  if (text === undefined) return seen;
  return { ...seen, act: act.kind === "remark" ? { ...act, kind: "remark", text: "words are with the service" } : { ...act, kind: act.kind } };
}
