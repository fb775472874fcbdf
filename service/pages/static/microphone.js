// The microphone: hold to talk, or hands free, where speech is cut into clips at the pauses. Each clip is handed on whole.

const TYPES = ["audio/webm;codecs=opus", "audio/ogg;codecs=opus", "audio/mp4"];
const SPEECH_LEVEL = 0.02;
const PAUSE_MS = 900;
const SHORTEST_MS = 250;
const LONGEST_MS = 20000;
const EMPTY_AFTER_MS = 6000;

export class Microphone extends EventTarget {
  mode = "off";
  #stream = null;
  #samples = null;
  #analyser = null;
  #recorder = null;
  #began = 0;
  #spoke = 0;
  #held = false;

  get possible() { return Boolean(navigator.mediaDevices?.getUserMedia && globalThis.MediaRecorder); }

  // Asks for the microphone; raises the browser's own refusal.
  async open() {
    if (this.#stream?.active) return;
    this.#stream = await navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, echoCancellation: true, noiseSuppression: false, autoGainControl: true } });
    const context = new AudioContext();
    if (context.state === "suspended") await context.resume().catch(() => {});
    this.#analyser = context.createAnalyser();
    this.#analyser.fftSize = 1024;
    this.#samples = new Float32Array(this.#analyser.fftSize);
    context.createMediaStreamSource(this.#stream).connect(this.#analyser);
    setInterval(() => this.#look(), 60);
  }

  async hold() {
    this.#held = true;
    await this.open();
    if (!this.#held || this.mode !== "off") return;
    this.mode = "held";
    this.#start();
  }

  release() {
    this.#held = false;
    if (this.mode !== "held") return;
    this.mode = "off";
    this.#finish(true);
  }

  async handsFree(on) {
    if (on) {
      await this.open();
      this.mode = "free";
      this.#start();
    } else if (this.mode !== "off") {
      this.mode = "off";
      this.#finish(this.#spoke > 0);
    }
  }

  // While the page itself speaks, what it hears is not kept.
  pause() { if (this.mode === "free") { this.mode = "paused"; this.#finish(false); } }
  goOn() { if (this.mode === "paused") { this.mode = "free"; this.#start(); } }

  get level() {
    if (!this.#analyser) return 0;
    this.#analyser.getFloatTimeDomainData(this.#samples);
    let power = 0;
    for (const sample of this.#samples) power += sample * sample;
    return Math.sqrt(power / this.#samples.length);
  }

  #start() {
    const type = TYPES.find((one) => MediaRecorder.isTypeSupported(one));
    const parts = [];
    let began = performance.now();
    const recorder = new MediaRecorder(this.#stream, type ? { mimeType: type, audioBitsPerSecond: 48000 } : {});
    recorder.wanted = false;
    recorder.onstart = () => { began = performance.now(); };
    recorder.ondataavailable = (event) => { if (event.data.size) parts.push(event.data); };
    recorder.onstop = () => {
      const lasted = performance.now() - began;
      const plain = (recorder.mimeType || type || "audio/webm").split(";")[0];
      if (recorder.wanted && lasted >= SHORTEST_MS) this.#hand(new Blob(parts, { type: plain }), plain, began);
      else if (recorder.wanted) this.dispatchEvent(new Event("tooshort"));
    };
    recorder.start();
    this.#recorder = recorder;
    this.#began = began;
    this.#spoke = 0;
    this.dispatchEvent(new Event("change"));
  }

  #finish(wanted) {
    const recorder = this.#recorder;
    this.#recorder = null;
    if (recorder && recorder.state !== "inactive") {
      recorder.wanted = wanted;
      recorder.stop();
    }
    this.dispatchEvent(new Event("change"));
  }

  // `began` is when the recording began, by the page's monotonic clock: words are timed from there.
  async #hand(blob, type, began) {
    const bytes = new Uint8Array(await blob.arrayBuffer());
    this.dispatchEvent(new CustomEvent("clip", { detail: { bytes, type, began } }));
  }

  #look() {
    const level = this.level, now = performance.now();
    this.dispatchEvent(new CustomEvent("level", { detail: level }));
    if (!this.#recorder) return;
    if (level > SPEECH_LEVEL) this.#spoke = now;
    const lasted = now - this.#began;
    if (this.mode === "held" && lasted > LONGEST_MS) { this.release(); return; }
    if (this.mode !== "free") return;
    const paused = this.#spoke && now - this.#spoke > PAUSE_MS;
    if (paused || lasted > LONGEST_MS) { this.#finish(this.#spoke > 0); this.#start(); }
    else if (!this.#spoke && lasted > EMPTY_AFTER_MS) { this.#finish(false); this.#start(); }
  }
}

// A refusal by the browser, in words for a person; buttons and files go on working.
export function refusalInWords(error, what) {
  const still = what === "microphone" ? "Every answer can also be given by button." : "A photo can also be chosen from a file.";
  if (error.name === "NotAllowedError" || error.name === "SecurityError") return `The browser refused the ${what}. Allow it in the browser’s settings for this page. ${still}`;
  if (error.name === "NotFoundError") return `This device has no ${what} that the browser can use. ${still}`;
  if (error.name === "NotReadableError") return `Another program is using the ${what}. Close it and try again. ${still}`;
  return `The ${what} cannot be used here (${error.message || error.name}). ${still}`;
}
