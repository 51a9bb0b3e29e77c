// How a live session stands: asked again and again, shown as it is.

import { ask, make } from "./talk.js";

const here = document.getElementById("live");
const [stop, complete] = here.querySelectorAll("form");
const lines = here.querySelector("[data-lines]");
const state = here.querySelector("[data-state]");

async function look() {
  const now = document.hidden ? null : await ask("/api/live");
  if (now?.ok) {
    if (state.textContent !== now.words) state.textContent = now.words;
    stop.hidden = !now.at_work;
    document.getElementById("live-start").hidden = now.at_work || now.busy;
    complete.hidden = !now.cut_short;
    complete.querySelector("[data-cut-short]").textContent = now.cut_short;
    lines.replaceChildren(...now.lines.map((line) => make("li", {}, line)));
    lines.hidden = !now.lines.length;
  }
  setTimeout(look, now?.ok === false ? 5000 : 1200);
}

look();
