// Set a first password by the one-time token in the fragment of the link.

import { post, words } from "./asking.js";

const form = document.getElementById("invitation");
const said = form.querySelector("[data-said]");
const token = location.hash.slice(1);

if (!token) said.textContent = "This page needs the whole link that you were given; the part after # is missing.";

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const { password, again } = form.elements;
  said.textContent = "";
  if (password.value !== again.value) { said.textContent = "The two are not the same."; return; }
  try {
    const person = await post("/v1/passwords", { token, password: password.value });
    document.querySelector("[data-name]").textContent = person.sign_in_name;
    document.getElementById("done").hidden = false;
    form.hidden = true;
    history.replaceState(null, "", location.pathname);
  } catch (error) { said.textContent = words(error); }
});
