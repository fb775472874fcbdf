// The sign-in page. An enrolled device gives its token along with the name; the sign-in itself is kept in a cookie that
// no script can read.

import { post, words } from "./asking.js";
import { keep, kept } from "./keep.js";
import { forgetPages } from "./kept_pages.js";

const form = document.getElementById("sign-in");
const said = form.querySelector("[data-said]");
const line = document.getElementById("device-line");
const enrol = document.getElementById("enrol");

function showDevice() {
  const name = kept("device.name");
  line.textContent = name ? `Enrolled here: ${name}.` : "This device is not enrolled: you can look and judge, not record.";
}

// A link may carry the one-time word in its fragment, which no server sees.
const offered = new URLSearchParams(location.hash.slice(1)).get("device");
if (offered) {
  form.elements.device.value = offered;
  enrol.open = true;
  history.replaceState(null, "", location.pathname + location.search);
}
showDevice();

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  said.textContent = "";
  const { name, password, device } = form.elements;
  try {
    const word = device.value.trim();
    if (word) await enrolWith(word, name.value, password.value);
    else await begin(name.value, password.value, kept("device.token"));
    keep("name", name.value);
    await forgetPages();
    location.assign(form.dataset.go || "/");
  } catch (error) {
    said.textContent = words(error);
    password.select();
  }
});

// The word is either the token of a device that is enrolled already, or the one-time word that enrols this one.
async function enrolWith(word, name, password) {
  try {
    await begin(name, password, word);
    keep("device.token", word);
    keep("device.name", "this device");
  } catch (error) {
    if (error.status !== 403) throw error;
    const made = await post("/v1/devices", { token: word });
    keep("device.token", made.device_token);
    keep("device.name", made.device.name);
    form.elements.device.value = "";
    showDevice();
    await begin(name, password, made.device_token);
  }
}

async function begin(name, password, device) {
  await post("/v1/session", { name, password, keep: "cookie", ...(device ? { device_token: device } : {}) });
}

form.elements.name.value = kept("name") ?? "";
