// How long work stands: asked again and again while this page is seen, shown as it is.

import { ask, make } from "./talk.js";

const here = document.getElementById("work");
const words = here.querySelector("[data-words]");
const bar = here.querySelector("progress");
const lines = here.querySelector("[data-lines]");
const kinds = here.dataset.kinds.split(" ");
let shown = "";

async function look() {
  const now = document.hidden ? null : await ask("/api/work");
  if (now?.ok && kinds.includes(now.kind)) show(now);
  setTimeout(look, now?.ok === false ? 5000 : now?.busy ? 700 : 2000);
}

function show(now) {
  const text = now.busy ? now.words : "Done.";
  if (words.textContent !== text) words.textContent = text;
  here.hidden = false;
  here.querySelector("form").hidden = !now.busy;
  bar.hidden = !now.busy;
  if (now.part === null) bar.removeAttribute("value");
  else bar.value = now.part;
  for (const one of document.querySelectorAll("[data-after]")) one.hidden = now.busy || !now.offer;
  const all = JSON.stringify(now.lines);
  if (all === shown) return;
  shown = all;
  lines.replaceChildren(
    ...now.lines.map((one) => make("li", { class: one.good ? null : "caution" }, one.words)),
  );
}

look();
