// The technician's page: what is said, tapped or photographed becomes an item in the outbox; what is shown comes from
// the service alone.

import { ask, post, Problem, Unreachable, words } from "./asking.js";
import { Camera } from "./camera.js";
import { challenge } from "./identity.js";
import { keepPage, keptPart } from "./kept_pages.js";
import { Microphone, refusalInWords } from "./microphone.js";
import { Outbox } from "./outbox.js";
import { signInAgain } from "./sign_in_again.js";
import { Swap } from "./swap.js";
import { tapUpperEdge } from "./upper_edge.js";
import { hasVoice, say, setSound, soundOn, tones } from "./voice.js";

const { job, device, person, name } = document.body.dataset;
const by = (id) => document.getElementById(id);
const now = by("now");
let chosen = new URLSearchParams(location.search).get("step");
const swap = new Swap(now, () => `/jobs/${job}/now${chosen ? `?step=${encodeURIComponent(chosen)}` : ""}`);
const outbox = new Outbox({ job, device, person, name });
const microphone = new Microphone();
const camera = new Camera(by("camera"), by("camera-view"));

// ---- what an item is made of

const step = () => swap.facts.step ?? null;
const capture = () => ({ step: step(), known_seq: Number(swap.facts.seq) });
const statement = (intent, slots, says, more = {}) => outbox.add(
  { kind: "statement", intent, slots, ...(more.answers ? { answers: more.answers } : {}), ...capture() }, { says, first: more.first });

function addClip(bytes, type, began) {
  const ago = Math.max(0, Math.round(performance.now() - began));
  return outbox.add({ kind: "clip", began_ms_ago: ago, ...capture() }, { bytes, type, says: "what you said" });
}

async function addPhoto(bytes, type, source, of, code) {
  const here = capture(), asked = by("edge-asked")?.dataset.upperEdge;
  const edge = asked && of === "switch" ? await tapUpperEdge(by("edge"), asked, bytes, type) : null;
  const made = { kind: "photo", source, of, ...(code ? { challenge: code } : {}), ...(edge ? { upper_edge: edge } : {}), ...here };
  return outbox.add(made, { bytes, type, says: `photo of the ${of.replaceAll("_", " ")}` });
}

// ---- answers by button and field

now.addEventListener("click", (event) => {
  const button = event.target.closest("button, a[data-choose]");
  if (!button) return;
  if (button.dataset.say) sayIt(button);
  else if (button.dataset.camera) openCamera(button.dataset.camera);
  else if (button.dataset.moment) mark(button);
  else if (button.dataset.release) release(button.dataset.release, "reasonNeeded" in button.dataset);
  else if (button.dataset.act) pause(button);
  else if (button.dataset.choose) { event.preventDefault(); chosen = button.dataset.choose; look(); }
});

// What was answered already is not asked again while the answer is on its way.
const answered = new Set();

function sayIt(button) {
  if (button.dataset.answers) answered.add(button.dataset.answers);
  const { intent, slots } = JSON.parse(button.dataset.say);
  statement(intent, slots, button.closest("[data-says]")?.dataset.says ?? button.textContent.trim(), { answers: button.dataset.answers });
  button.closest(".actions, .pair, .three").querySelectorAll("button").forEach((one) => { one.disabled = true; });
}

// A mark has the time of the press; its button stays usable, since the valve waits for nobody.
function mark(button) {
  const { intent, slots } = JSON.parse(button.dataset.moment);
  const words = button.textContent.trim();
  statement(intent, slots, `mark: ${words}`);
  tones.stored();
  talkLine(`Marked: ${words}`);
}

now.addEventListener("submit", (event) => {
  event.preventDefault();
  const form = event.target;
  if (form.dataset.fill) fill(form);
  else if ("contactsForm" in form.dataset) sayContacts(form);
  else if (form.dataset.resume) resume(form);
  else if (form.dataset.gap) told(form, () => post(`/v1/jobs/${job}/gaps`, { device, up_to: Number(form.dataset.gap), reason: form.elements.reason.value }));
  else if ("handover" in form.dataset) told(form, () => post(`/v1/jobs/${job}/handover`, { to: form.elements.to.value, reason: form.elements.reason.value }));
});

function fill(form) {
  const { intent, slots, unit, slot = "value" } = JSON.parse(form.dataset.fill);
  const typed = form.elements.value?.value.trim();
  const value = "number" in form.dataset ? Number(typed.replace(",", ".")) : typed;
  const until = form.elements.until;
  const said = { ...slots, ...(typed === undefined ? {} : { [slot]: value }), ...(unit ? { unit } : {}), ...(until ? { until: instant(until) } : {}) };
  statement(intent, said, [typed, unit, until && `until ${until.value}`].filter(Boolean).join(" "));
  form.querySelector("button").disabled = true;
}

// A day as it is, an hour with its offset.
const instant = (field) => (field.type === "date" ? field.value : new Date(field.value).toISOString());

// One statement for each state, since each is read back and confirmed by itself.
function sayContacts(form) {
  const picked = [...form.querySelectorAll("input:checked")];
  if (!picked.length) return;
  for (const state of ["closed", "open"]) {
    const contacts = picked.filter((one) => one.value === state).map((one) => one.dataset.label);
    if (contacts.length) statement("contact", { contacts, state }, `contacts ${contacts.join(", ")} ${state}`);
  }
  form.querySelector("button").disabled = true;
}

// ---- stop and resume, break, the technician's own release

by("stop").addEventListener("click", async () => {
  by("stop").disabled = true;
  try {
    if (device) await statement("control", { action: "stop_work" }, "stop work", { first: true });
    else await post(`/v1/jobs/${job}/stop`, { reason: "pressed stop work" });
    talkLine("Stopped in the record, not the motor");
  } catch (error) { talkLine(words(error)); }
  by("stop").disabled = false;
  look();
});

async function resume(form) {
  await told(form, () => post(`/v1/jobs/${job}/resume`, { stop: Number(form.dataset.resume), reason: form.elements.reason.value }));
}

async function pause(button) {
  await told(button.parentElement, () => post(`/v1/jobs/${job}/break`, { cause: button.dataset.act === "shift" ? "shift_change" : "break" }));
}

async function told(where, act) {
  const said = where.querySelector("[data-said]");
  try { await act(); await look(); } catch (error) {
    if (error.status === 401) { await again(); return; }
    if (said) said.textContent = words(error); else talkLine(words(error));
  }
}

function release(id, reasonNeeded) {
  const dialog = by("proof"), password = by("proof-password"), said = dialog.querySelector("[data-said]"), why = by("proof-why");
  said.textContent = "";
  password.value = "";
  why.value = "";
  why.required = reasonNeeded;
  by("proof-reason").hidden = !reasonNeeded;
  dialog.querySelector("form").onsubmit = async (event) => {
    event.preventDefault();
    try {
      await post("/v1/session/proof", { password: password.value });
      await post(`/v1/jobs/${job}/steps/${id}/release`, { head: swap.facts.head, ...(reasonNeeded ? { reason: why.value.trim() } : {}) });
      dialog.close();
      look();
    } catch (error) { said.textContent = words(error); look(); }
  };
  dialog.showModal();
}

// ---- talking

const hold = by("hold"), hands = by("hands");
const MODES = { held: "Listening", free: "Listening, hands free", paused: "Speaking", off: "Not listening" };
let lineTimer = 0;

// A passing word beside the talk button; what the microphone does stands there again after a while.
function talkLine(text) {
  by("talk-line").textContent = text;
  clearTimeout(lineTimer);
  lineTimer = setTimeout(() => { by("talk-line").textContent = MODES[microphone.mode]; }, 6000);
}

async function listen(begin) {
  try {
    if (!microphone.possible) throw Object.assign(new Error("it needs a secure page"), { name: "NoMicrophone" });
    await begin();
    by("no-microphone").hidden = true;
  } catch (error) {
    by("no-microphone").textContent = refusalInWords(error, "microphone");
    by("no-microphone").hidden = false;
    talkLine("Not listening");
  }
}

hold.addEventListener("pointerdown", (event) => {
  if (hold.disabled) return;
  try { hold.setPointerCapture(event.pointerId); } catch { /* a pointer that is gone already */ }
  listen(() => microphone.hold());
});
for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) hold.addEventListener(end, () => microphone.release());
hold.addEventListener("contextmenu", (event) => event.preventDefault());
hold.addEventListener("keydown", (event) => { if ([" ", "Enter"].includes(event.key)) { event.preventDefault(); if (!event.repeat) listen(() => microphone.hold()); } });
hold.addEventListener("keyup", (event) => { if ([" ", "Enter"].includes(event.key)) { event.preventDefault(); microphone.release(); } });
hands.addEventListener("click", () => listen(() => microphone.handsFree(hands.getAttribute("aria-pressed") !== "true")));

microphone.addEventListener("change", () => {
  const free = ["free", "paused"].includes(microphone.mode);
  hold.dataset.on = String(microphone.mode === "held");
  hold.querySelector("span").textContent = microphone.mode === "held" ? "Let go to send" : "Hold to talk";
  hands.setAttribute("aria-pressed", String(free));
  hands.textContent = free ? "Hands free is on" : "Hands free";
  talkLine(MODES[microphone.mode]);
});
microphone.addEventListener("level", (event) => {
  const decibels = 20 * Math.log10(Math.max(event.detail, 1e-4));
  by("level").setAttribute("width", String(Math.max(0, Math.min(100, ((decibels + 60) / 54) * 100)).toFixed(1)));
});
microphone.addEventListener("clip", (event) => addClip(event.detail.bytes, event.detail.type, event.detail.began));
microphone.addEventListener("tooshort", () => talkLine("Too short: hold while you talk"));

// ---- photos

async function openCamera(of) {
  const code = challenge();
  by("camera-code").textContent = code;
  by("camera").dataset.of = of;
  by("camera").dataset.code = code;
  try { await camera.open(); by("no-camera").hidden = true; } catch (error) {
    by("no-camera").textContent = refusalInWords(error, "camera");
    by("no-camera").hidden = false;
    by("no-camera").scrollIntoView({ block: "center" });
  }
}

by("shutter").addEventListener("click", async () => {
  const { of, code } = by("camera").dataset;
  const { bytes, type } = await camera.take();
  addPhoto(bytes, type, "live", of, code);
});

now.addEventListener("change", async (event) => {
  const of = event.target.dataset?.file;
  if (!of) return;
  for (const file of event.target.files) await addPhoto(new Uint8Array(await file.arrayBuffer()), file.type || "image/jpeg", "imported", of);
  event.target.value = "";
});
now.addEventListener("keydown", (event) => {
  if (event.target.matches?.("label[role=button]") && [" ", "Enter"].includes(event.key)) { event.preventDefault(); event.target.querySelector("input").click(); }
});

// ---- what waits

outbox.addEventListener("change", () => {
  const waits = outbox.mine.filter((one) => one.state !== "refused").length;
  const refused = outbox.items.filter((one) => one.state === "refused").length;
  const others = outbox.items.length - outbox.mine.length;
  by("outbox-open").textContent = [waits ? `${waits} waiting` : "", refused ? `${refused} refused` : "", others ? `${others} of another person` : ""].filter(Boolean).join(", ") || "Nothing waits";
  document.body.dataset.waiting = String(waits);
  by("outbox-empty").hidden = outbox.items.length > 0;
  by("outbox-list").replaceChildren(...outbox.items.map(line));
});

function line(item) {
  const element = document.createElement("li"), where = document.createElement("span");
  element.textContent = `${item.seq}: ${item.says}`;
  where.className = `where ${item.state === "refused" ? "refused" : item.note ? "waiting" : ""}`;
  const mine = item.person === outbox.person;
  const at = { waits: "waits", goes: "on the way", refused: "refused" }[item.state];
  where.textContent = mine ? (item.note ? `${at}: ${item.note}` : at) : `waits until ${item.name} signs in again`;
  element.append(where);
  if (item.bytes && item.state === "goes") element.append(bar(item.part ?? 0));
  return element;
}

function bar(part) {
  const make = (name, facts) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(facts)) made.setAttribute(key, value);
    return made;
  };
  const whole = make("svg", { viewBox: "0 0 100 8", preserveAspectRatio: "none", role: "img", "aria-label": `${Math.round(part * 100)} % sent` });
  whole.append(make("rect", { width: (part * 100).toFixed(1), height: 8 }));
  return whole;
}

by("outbox-open").addEventListener("click", () => by("outbox").showModal());
outbox.addEventListener("stored", (event) => {
  if (event.detail.item.message.kind !== "statement") tones.stored();
  look();
});
outbox.addEventListener("refused", (event) => { tones.again(); talkLine(`Refused: ${event.detail.item.note}`); look(); });
outbox.addEventListener("signedout", () => again());
addEventListener("beforeunload", (event) => { if (!outbox.shelf?.durable && outbox.items.length) event.preventDefault(); });

async function again() {
  const answer = await signInAgain(by("again"));
  if (!answer) return;
  if (answer.person !== person) { location.reload(); return; }
  outbox.resume(answer.person, answer.name);
  look();
}

// ---- looking: more often while something is under way

let timer = 0, looking = false, reached = false, keptMark = "";

// What is shown is kept on this phone, so that the page opens with it where there is no connection.
async function keepShown() {
  if (swap.facts.mark === keptMark) return;
  keptMark = swap.facts.mark;
  try { await keepPage(`/jobs/${job}`, person, chosen ? await ask("GET", `/jobs/${job}/now`) : swap.text); } catch { keptMark = ""; }
}

async function unreached() {
  by("offline").hidden = false;
  if (reached || !by("kept").hidden) return;
  const last = await keptPart(`/jobs/${job}`);
  if (!last) return;
  swap.show(last.text);
  by("kept").textContent = `This is the job as ${name} last saw it here, at ${last.at.toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" })}. What you make now is recorded for ${name}: if that is not you, put the phone down.`;
  by("kept").hidden = false;
}

async function look() {
  clearTimeout(timer);
  if (looking) { timer = setTimeout(look, 150); return; }
  looking = true;
  try {
    await swap.renew();
    outbox.learn(Number(swap.facts.nextSeq));
    by("offline").hidden = by("kept").hidden = true;
    reached = true;
    keepShown();
  } catch (error) {
    if (error instanceof Unreachable) await unreached();
    else if (error instanceof Problem && error.status === 401) { if (!by("again").open && !outbox.signedOut) { outbox.signedOut = true; again(); } }
    else talkLine(words(error));
  }
  looking = false;
  const busy = Number(swap.facts.working) > 0 || outbox.mine.some((one) => one.state !== "refused");
  timer = setTimeout(look, document.hidden ? 15000 : busy ? 700 : 2500);
}

async function speak() {
  for (const sentence of now.querySelectorAll("[data-speak]")) {
    microphone.pause();
    if (sentence.closest(".against-edge")) tones.differs();
    await say(sentence.dataset.speak, sentence.dataset.speakOnce);
    microphone.goOn();
  }
  const heard = now.querySelector(".heard.refused");
  if (heard && heard.textContent !== speak.last) { speak.last = heard.textContent; tones.again(); }
}

const sound = document.querySelector("[data-sound]");
const tellSound = () => { sound.textContent = `${hasVoice ? "Voice and tones" : "Tones"}: ${soundOn() ? "on" : "off"}`; };
sound.addEventListener("click", () => { setSound(!soundOn()); tellSound(); });
tellSound();

swap.addEventListener("swapped", () => {
  for (const one of now.querySelectorAll("[data-answers]")) one.disabled = answered.has(one.dataset.answers);
  speak();
});
document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
by("insecure").hidden = isSecureContext;
if (device) outbox.open();
outbox.learn(Number(swap.facts.nextSeq));
timer = setTimeout(look, 1500);
document.body.dataset.ready = "yes";
