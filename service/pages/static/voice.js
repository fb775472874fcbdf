// What is said aloud, where the browser has a voice, and the tones: one low = heard and stored, two = say it again,
// a falling pair = disagreement. None is the only sign; each can be switched off.

import { keep, kept } from "./keep.js";

let context = null;
const spoken = new Set();

export const hasVoice = "speechSynthesis" in globalThis;
export const soundOn = () => kept("sound") !== "off";
export const setSound = (on) => keep("sound", on ? "on" : "off");

// Says each sentence once; `once` names it. Resolves when it has been said or cannot be.
export function say(sentence, once) {
  if (!hasVoice || !soundOn() || !sentence || (once && spoken.has(once))) return Promise.resolve();
  if (once) spoken.add(once);
  return new Promise((resolve) => {
    const said = new SpeechSynthesisUtterance(sentence);
    said.lang = "en";
    said.rate = 0.95;
    said.onend = said.onerror = resolve;
    speechSynthesis.cancel();
    speechSynthesis.speak(said);
    setTimeout(resolve, 12000);
  });
}

export const tones = {
  stored: () => play([[220, 0, 0.12]]),
  again: () => play([[330, 0, 0.1], [330, 0.16, 0.1]]),
  differs: () => play([[440, 0, 0.16], [262, 0.18, 0.24]]),
};

function play(notes) {
  if (!soundOn() || !("AudioContext" in globalThis)) return;
  context ??= new AudioContext();
  if (context.state === "suspended") context.resume().catch(() => {});
  for (const [pitch, start, length] of notes) {
    const source = context.createOscillator(), loudness = context.createGain(), at = context.currentTime + start;
    source.frequency.value = pitch;
    loudness.gain.setValueAtTime(0.0001, at);
    loudness.gain.exponentialRampToValueAtTime(0.25, at + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.0001, at + length);
    source.connect(loudness).connect(context.destination);
    source.start(at);
    source.stop(at + length + 0.02);
  }
}
