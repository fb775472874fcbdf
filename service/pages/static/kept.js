// Without connection: which jobs this phone can open all the same.

import { keptJobs } from "./kept_pages.js";

const jobs = await keptJobs();
document.getElementById("none").hidden = jobs.length > 0;
document.getElementById("kept").replaceChildren(...jobs.map(({ page, tag, name }) => {
  const line = document.createElement("li"), link = document.createElement("a"), said = document.createElement("span"), who = document.createElement("span");
  link.href = page;
  said.className = "tag";
  said.textContent = tag;
  who.className = "what";
  who.textContent = `opened by ${name}`;
  link.append(said, who);
  line.append(link);
  return line;
}));
document.body.dataset.ready = "yes";
