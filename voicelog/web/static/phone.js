// Whether phones may record for this computer, and the codes that they scan: asked again and again.

import { ask, make } from "./talk.js";

const here = document.getElementById("phone");
const stop = here.querySelector("form");
const lines = here.querySelector("[data-lines]");
const state = here.querySelector("[data-state]");
const codes = here.querySelector("[data-codes]");

async function look() {
  const now = document.hidden ? null : await ask("/api/phone");
  if (now?.ok) {
    if (state.textContent !== now.words) state.textContent = now.words;
    stop.hidden = !now.at_work;
    document.getElementById("phone-start").hidden = now.at_work || now.busy;
    lines.replaceChildren(...now.lines.map((line) => make("li", {}, line)));
    lines.hidden = !now.lines.length;
    codes.hidden = !now.place;
    if (now.place) show(now.place);
  }
  setTimeout(look, now?.ok === false ? 5000 : 1200);
}

function show(place) {
  for (const name of ["page", "trust", "fingerprint", "code"]) {
    here.querySelector(`[data-${name}]`).textContent = place[name];
  }
  if (codes.dataset.shown === place.picture) return;
  codes.dataset.shown = place.picture;
  for (const picture of codes.querySelectorAll("[data-picture]")) {
    picture.src = `/phone/${picture.dataset.picture}.svg?n=${place.picture}`;
  }
}

look();
