// Requests to the service. A refusal is a Problem with the words of the service (RFC 9457); no answer is Unreachable.

export class Problem extends Error {
  constructor(status, told, retryAfter) {
    super(told.detail ?? told.title ?? `The service answered ${status}.`);
    this.status = status;
    this.hint = told.hint ?? "";
    this.retryAfter = retryAfter;
  }

  // For a person: what happened, and what to do.
  get words() { return this.hint ? `${this.message} ${this.hint}` : this.message; }
}

export class Unreachable extends Error {
  get words() { return "No connection to the service. Nothing is lost; try again when it is back."; }
}

export async function ask(method, path, body, { type = "application/json", headers = {}, signal } = {}) {
  const options = { method, credentials: "same-origin", cache: "no-store", headers: { ...headers }, signal };
  if (body !== undefined) {
    options.body = type === "application/json" ? JSON.stringify(body) : body;
    options.headers["Content-Type"] = type;
  }
  let answer;
  try { answer = await fetch(path, options); } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Unreachable();
  }
  const text = await answer.text();
  if (answer.ok) return text && (answer.headers.get("content-type") ?? "").includes("json") ? JSON.parse(text) : text;
  throw new Problem(answer.status, parsed(text), Number(answer.headers.get("retry-after")) || 0);
}

// Sends bytes and tells how much of them has left this device, 0 to 1.
export function send(path, bytes, type, progress) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("PUT", path);
    request.setRequestHeader("Content-Type", type);
    request.upload.onprogress = (event) => { if (event.lengthComputable) progress(event.loaded / event.total); };
    request.onerror = request.onabort = request.ontimeout = () => reject(new Unreachable());
    request.onload = () => {
      if (request.status < 300) { resolve(); return; }
      reject(new Problem(request.status, parsed(request.responseText), Number(request.getResponseHeader("retry-after")) || 0));
    };
    request.send(bytes);
  });
}

function parsed(text) {
  try { return JSON.parse(text); } catch { return {}; }
}

export const post = (path, body) => ask("POST", path, body);
export const words = (error) => error.words ?? `This page has a defect: ${error.message}`;
