// Brings the part of a page that changes up to date. It is exchanged only where something shown differs, never under a
// finger, and keeps what was filled in, what is open, and where the focus is.

import { ask } from "./asking.js";

export class Swap extends EventTarget {
  #pressed = false;

  constructor(element, path) {
    super();
    Object.assign(this, { element, path });
    addEventListener("pointerdown", () => { this.#pressed = true; }, true);
    for (const name of ["pointerup", "pointercancel"]) addEventListener(name, () => { this.#pressed = false; }, true);
  }

  get facts() { return this.element.firstElementChild.dataset; }

  // Returns whether something changed. `may` is asked before what is shown is exchanged.
  async renew(may = () => true) {
    this.text = await ask("GET", this.path());
    return this.show(this.text, may);
  }

  // Shows a text of this part, wherever it came from.
  show(text, may = () => true) {
    const fresh = new DOMParser().parseFromString(text, "text/html").body.firstElementChild;
    if (!fresh?.dataset.mark) return false;
    if (fresh.dataset.mark === this.facts.mark) { Object.assign(this.element.firstElementChild.dataset, fresh.dataset); return false; }
    if (this.#pressed || !may()) return true;
    const filled = this.#filled(), focus = document.activeElement?.id, open = this.#open();
    this.element.replaceChildren(fresh);
    for (const [name, value] of filled) this.#fill(name, value);
    for (const id of open) { const there = document.getElementById(id); if (there) there.open = true; }
    if (focus && focus !== document.activeElement?.id) document.getElementById(focus)?.focus({ preventScroll: true });
    this.dispatchEvent(new Event("swapped"));
    return true;
  }

  #filled() {
    const fields = [...this.element.querySelectorAll("input, textarea")].filter((field) => field.id && field.type !== "file" && field.type !== "password");
    return fields.map((field) => [field.id, ["radio", "checkbox"].includes(field.type) ? field.checked : field.value]).filter(([, value]) => value);
  }

  #fill(id, value) {
    const field = document.getElementById(id);
    if (!field || !this.element.contains(field)) return;
    if (typeof value === "boolean") field.checked = value;
    else if (!field.value) field.value = value;
  }

  #open() { return [...this.element.querySelectorAll("details[open][id]")].map((one) => one.id); }
}
