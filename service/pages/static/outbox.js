// What was made here and is not yet stored by the service. Items go in their sequence, one after the other, and are
// tried again by themselves; what restricts ("stop work") goes first. They belong to the person who made them: another
// person's wait until that person signs in again.

import { ask, Problem, send, Unreachable, words } from "./asking.js";
import { uuid7, clocks, wallClock } from "./identity.js";
import { keep, kept } from "./keep.js";
import { openShelf } from "./shelf.js";
import { sha256 } from "./sha256.js";

const PAUSES_S = [1, 2, 4, 8, 15, 30];

export class Outbox extends EventTarget {
  items = [];
  trouble = "";
  signedOut = false;
  #sending = false;
  #failures = 0;
  #timer = 0;

  constructor({ job, device, person, name }) {
    super();
    Object.assign(this, { job, device, person, name });
  }

  async open() {
    this.shelf = await openShelf();
    const all = await this.shelf.all();
    this.items = all.filter((one) => one.job === this.job && one.device === this.device).sort((a, b) => a.seq - b.seq);
    addEventListener("online", () => this.#soon(0));
    this.#changed();
    this.#soon(0);
  }

  get mine() { return this.items.filter((one) => one.person === this.person); }

  // The service may know of a later item of this device than this browser does.
  learn(nextSeq) { if (nextSeq - 1 > this.#last()) keep(this.#counter, String(nextSeq - 1)); }

  async add(message, { bytes, type, says, first = false } = {}) {
    const seq = this.#last() + 1;
    keep(this.#counter, String(seq));
    const item = {
      id: uuid7(), job: this.job, device: this.device, person: this.person, name: this.name, seq, first, says,
      message: { ...message, device_seq: seq, ...clocks() }, bytes: bytes ?? null, type: type ?? null, state: "waits", note: "",
    };
    if (bytes) item.message.media = await sha256(bytes);
    this.items.push(item);
    try { await this.shelf.put(item); } catch { this.trouble = "This phone keeps nothing on disk; leave the page open until all is sent."; }
    this.#changed();
    this.#soon(0);
    return item.id;
  }

  // After signing in again.
  resume(person, name) {
    Object.assign(this, { person, name });
    this.signedOut = false;
    this.#failures = 0;
    this.#soon(0);
  }

  #last() { return Number(kept(this.#counter) ?? 0); }
  get #counter() { return `seq.${this.device}.${this.job}`; }
  #changed() { this.dispatchEvent(new Event("change")); }

  #soon(seconds) {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#sendAll(), seconds * 1000);
  }

  async #sendAll() {
    if (this.#sending || this.signedOut) return;
    this.#sending = true;
    let wait = 0;
    try {
      for (let next = this.#next(); next; next = this.#next()) {
        wait = await this.#sendOne(next);
        if (wait || this.signedOut) break;
      }
    } finally { this.#sending = false; }
    if (wait) this.#soon(wait);
    else if (!this.signedOut && this.#next()) this.#soon(0);
  }

  #next() { return this.mine.find((one) => one.first && one.state !== "refused") ?? this.mine.find((one) => one.state !== "refused"); }

  // Returns the seconds to wait before the next attempt; 0 goes on at once.
  async #sendOne(item) {
    item.state = "goes";
    item.note = "";
    this.#changed();
    try {
      if (item.bytes && !item.bytesStored) {
        await send(`/v1/media/${item.message.media}`, item.bytes, item.type, (part) => { item.part = part; this.#changed(); });
        item.bytesStored = true;
      }
      const taken = await ask("PUT", `/v1/jobs/${this.job}/items/${item.id}`, item.message, { headers: { "Device-Clock": wallClock() } });
      this.#failures = 0;
      await this.#done(item);
      this.dispatchEvent(new CustomEvent("stored", { detail: { item, taken } }));
      return 0;
    } catch (error) { return this.#failed(item, error); }
  }

  async #done(item) {
    this.items = this.items.filter((one) => one !== item);
    await this.shelf.remove(item.id).catch(() => {});
    this.#changed();
  }

  async #failed(item, error) {
    item.state = "waits";
    item.note = error instanceof Unreachable ? "no connection; it goes by itself when that is back" : words(error);
    if (error instanceof Problem && error.status === 401) {
      this.signedOut = true;
      this.#changed();
      this.dispatchEvent(new Event("signedout"));
      return 0;
    }
    if (error instanceof Unreachable || error.status === 429 || error.status >= 500 || !(error instanceof Problem)) {
      const pause = error.retryAfter || PAUSES_S[Math.min(this.#failures, PAUSES_S.length - 1)];
      this.#failures += 1;
      this.#changed();
      return pause;
    }
    return this.#refused(item, error);
  }

  // The service will never take this one: say so, and let the items after it go on past the gap that it leaves.
  async #refused(item, error) {
    item.state = "refused";
    try {
      if (error.status !== 409) await ask("POST", `/v1/jobs/${this.job}/gaps`, { device: this.device, up_to: item.seq, reason: `The service refused it: ${error.message}` });
    } catch { item.state = "waits"; this.#changed(); return PAUSES_S[2]; }
    item.bytes = null;
    await this.shelf.remove(item.id).catch(() => {});
    this.#changed();
    this.dispatchEvent(new CustomEvent("refused", { detail: { item } }));
    return 0;
  }
}
