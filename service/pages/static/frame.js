// What every page has: day or night, signing out, dialogs that close.

import { ask, words } from "./asking.js";
import { keep } from "./keep.js";
import { forgetPages } from "./kept_pages.js";

const dark = matchMedia("(prefers-color-scheme: dark)");

document.querySelector("[data-light]")?.addEventListener("click", () => {
  const root = document.documentElement;
  const now = root.dataset.light ?? (dark.matches ? "night" : "day");
  root.dataset.light = now === "day" ? "night" : "day";
  keep("light", root.dataset.light);
});

document.querySelector("[data-menu]")?.addEventListener("click", (event) => {
  const open = document.getElementById("menu").toggleAttribute("data-open");
  event.currentTarget.setAttribute("aria-expanded", String(open));
});

document.querySelector("[data-sign-out]")?.addEventListener("click", async (event) => {
  const waits = Number(document.body.dataset.waiting ?? 0);
  if (waits && !confirm(`${waits} not yet sent. They stay on this phone and are sent when you sign in again. Sign out?`)) return;
  try {
    await ask("DELETE", "/v1/session");
    await forgetPages();
    location.assign("/sign-in");
  } catch (error) { event.target.textContent = words(error); }
});

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-close]")) event.target.closest("dialog")?.close();
});
