// How the watched folder stands: asked again and again, shown as it is.

import { ask, make } from "./talk.js";

const here = document.getElementById("watch");
const words = here.querySelector("[data-words]");
const trouble = here.querySelector("[data-trouble]");
const files = here.querySelector("[data-files]");
const others = here.querySelector("[data-others]");
let shown = "";

async function look() {
  const now = document.hidden ? null : await ask("/api/watch");
  if (now?.ok) {
    if (words.textContent !== now.words) words.textContent = now.words;
    trouble.textContent = now.trouble;
    trouble.hidden = !now.trouble;
    const all = JSON.stringify([now.files, now.changed]);
    if (all !== shown) {
      shown = all;
      files.replaceChildren(
        ...now.files.map((one) => make("li", { class: one.good ? null : "caution" }, one.words)),
      );
      others.hidden = !now.changed.length;
      others.querySelector("[data-changed]").replaceChildren(...now.changed.map((one) => make("li", {}, one)));
    }
  }
  setTimeout(look, 3000);
}

look();
