// What a mark of a plot stands for, shown while it is pointed at or has the keys.

import { make } from "./talk.js";

const shown = make("p", { class: "value", "aria-hidden": "true" });

function show(event) {
  const mark = event.target.closest?.("svg a[aria-label]");
  if (!mark) return shown.remove();
  shown.textContent = mark.getAttribute("aria-label");
  mark.closest("svg").after(shown);
}

for (const what of ["pointerover", "focusin"]) document.addEventListener(what, show);
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") shown.remove();
});
