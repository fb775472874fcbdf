// Sign in again without leaving the page, so that nothing made or filled in here is lost.

import { post, words } from "./asking.js";
import { kept } from "./keep.js";

// Resolves with the answer of the sign-in, or null where it was put off.
export function signInAgain(dialog) {
  if (dialog.open) return Promise.resolve(null);
  const [name, password] = dialog.querySelectorAll("input");
  const said = dialog.querySelector("[data-said]");
  name.value ||= kept("name") ?? "";
  said.textContent = "";
  return new Promise((resolve) => {
    let answer = null;
    const submit = async (event) => {
      event.preventDefault();
      const device = kept("device.token");
      try {
        answer = await post("/v1/session", { name: name.value, password: password.value, keep: "cookie", ...(device ? { device_token: device } : {}) });
        dialog.close();
      } catch (error) { said.textContent = words(error); }
    };
    const form = dialog.querySelector("form");
    form.addEventListener("submit", submit);
    dialog.addEventListener("close", () => { form.removeEventListener("submit", submit); password.value = ""; resolve(answer); }, { once: true });
    dialog.showModal();
  });
}
