// Identities and clocks of what is captured here: UUIDv7 (RFC 9562), wall clock with its offset, and a time that only
// runs forward within one boot of this page.

const boot = uuid7();

export function uuid7(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let place = 5, rest = now; place >= 0; place -= 1, rest = Math.floor(rest / 256)) bytes[place] = rest % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// RFC 3339 with the offset of this device.
export function wallClock(date = new Date()) {
  const minutes = -date.getTimezoneOffset();
  const local = new Date(date.getTime() + minutes * 60000).toISOString().slice(0, -1);
  const two = (figure) => String(Math.floor(Math.abs(figure))).padStart(2, "0");
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

export function clocks() {
  return { device_time: wallClock(), boot_id: boot, monotonic_ns: Math.round(performance.now() * 1e6) };
}

// A short code for one photo, without letters that look alike; the technician holds it in sight.
export function challenge() {
  const letters = "ACDEFHJKLMNPRTUVWXY34679";
  return Array.from(crypto.getRandomValues(new Uint8Array(4)), (byte) => letters[byte % letters.length]).join("");
}
