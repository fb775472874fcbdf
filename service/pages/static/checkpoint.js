// One step at the second person's desk: the blind judgement, the opinion, the release.

import { post, Problem, Unreachable, words } from "./asking.js";
import { signInAgain } from "./sign_in_again.js";
import { Swap } from "./swap.js";
import { Viewer } from "./viewer.js";

const { job, step } = document.body.dataset;
const by = (id) => document.getElementById(id);
const now = by("now");
const at = `/v1/jobs/${job}/steps/${step}`;
const swap = new Swap(now, () => `/desk/${job}/${step}/now`);
let viewer = null;
let force = false;

function wire() {
  viewer = by("viewer") ? new Viewer(by("viewer")) : null;
  for (const rotor of now.querySelectorAll("fieldset[data-rotor]")) follow(rotor);
}

// What the person's own choice means for each contact, so that nothing is stored unseen.
function follow(rotor) {
  const must = rotor.querySelector("input[name^=must]:checked")?.value, seen = rotor.querySelector("input[name^=seen]:checked")?.value;
  const parts = [];
  if (must) parts.push(`Must be: ${inWords(states(rotor, must))}.`);
  if (seen) parts.push(`Seen: ${inWords(states(rotor, seen))}.`);
  rotor.querySelector("[data-so]").textContent = parts.join(" ");
}

function states(rotor, choice) {
  const atRest = JSON.parse(rotor.dataset.atRest), tripped = JSON.parse(rotor.dataset.tripped);
  if (choice === "at_rest") return atRest;
  if (choice === "tripped") return tripped;
  return Object.fromEntries(Object.keys(atRest).map((label) => [label, choice === "either" ? "either" : "cannot_tell"]));
}

function inWords(given) {
  const groups = {};
  for (const [label, state] of Object.entries(given)) (groups[state] ??= []).push(label);
  return Object.entries(groups).map(([state, labels]) => `${labels.join(", ")} ${state === "cannot_tell" ? "can’t tell" : state}`).join("; ");
}

now.addEventListener("change", (event) => { const rotor = event.target.closest("fieldset[data-rotor]"); if (rotor) follow(rotor); });
now.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.photo) {
    viewer?.show(button.dataset.photo);
    for (const one of button.parentElement.children) one.setAttribute("aria-pressed", String(one === button));
  } else if (button.id === "ask-another") { by("another").hidden = false; by("another-why").focus(); }
  else if (button.id === "send-another") store(by("judgement"), () => post(`${at}/opinion`, { opinion: "another_photo", reason: by("another-why").value }));
});

now.addEventListener("submit", (event) => {
  event.preventDefault();
  const form = event.target;
  if (form.id === "judgement") judge(form);
  else if (form.id === "opinion") conclude(form, event.submitter.value);
  else if (form.id === "release") release(form);
});

function judge(form) {
  const required = {}, seen = {}, neither = [];
  for (const rotor of form.querySelectorAll("fieldset[data-rotor]")) {
    const choice = (name) => rotor.querySelector(`input[name^=${name}]:checked`).value;
    Object.assign(required, states(rotor, choice("must")));
    Object.assign(seen, states(rotor, choice("seen")));
    if (choice("seen") === "neither") neither.push(rotor.dataset.rotor);
  }
  const reason = neither.length ? `In neither position: ${neither.join(", ")}.` : "";
  store(form, () => post(`${at}/judgement`, { tag: form.elements.tag.value.trim(), required, seen, reason, mode: form.elements.concurrent.checked ? "concurrent" : "independent" }));
}

function conclude(form, opinion) {
  const reason = form.elements.reason.value.trim();
  if (opinion !== "agree" && !reason) {
    form.querySelector("[data-said]").textContent = "Say why in a few words.";
    form.elements.reason.focus();
    return;
  }
  store(form, () => post(`${at}/opinion`, { opinion, reason }));
}

function release(form) {
  const head = swap.facts.head;
  store(form, async () => {
    await post("/v1/session/proof", { password: by("release-password").value });
    await post(`${at}/release`, { head, reason: form.elements.reason.value.trim(), mode: form.dataset.mode });
  });
}

async function store(form, act) {
  const said = form.querySelector("[data-said]"), buttons = form.querySelectorAll("button");
  said.textContent = "";
  buttons.forEach((one) => { one.disabled = true; });
  try {
    await act();
    force = true;
    await look();
  } catch (error) {
    said.textContent = error.status === 412 ? `${words(error)} It is shown now; look, then release.` : words(error);
    if (error.status === 401 && form.id !== "release") await again();
    if (error.status === 412) { force = true; await look(); by("release")?.querySelector("[data-said]")?.replaceChildren(words(error)); }
  }
  buttons.forEach((one) => { one.disabled = false; });
}

async function again() { if (await signInAgain(by("again"))) look(); }

by("stop").addEventListener("click", async () => {
  try { await post(`/v1/jobs/${job}/stop`, { reason: "stopped at the desk" }); force = true; await look(); } catch (error) {
    if (error.status === 401) await again();
    by("offline").textContent = words(error);
    by("offline").hidden = false;
  }
});
by("show-newer").addEventListener("click", () => { force = true; look(); });

const begun = () => [...now.querySelectorAll("input, textarea")].some((field) => (["radio", "checkbox"].includes(field.type) ? field.checked : field.value));

async function look() {
  try {
    const changed = await swap.renew(() => force || !begun());
    by("moved-on").hidden = !(changed && !force && begun());
    if (force) force = false;
    by("offline").hidden = true;
  } catch (error) {
    if (error instanceof Unreachable) by("offline").hidden = false;
    else if (error instanceof Problem && error.status === 401) await again();
  }
}

swap.addEventListener("swapped", wire);
wire();
document.body.dataset.ready = "yes";
(function keepLooking() { setTimeout(async () => { if (!document.hidden) await look(); keepLooking(); }, 2500); })();
