// What a mark of a plot stands for, shown while it is pointed at or has the keys.

import { make } from "./talk.js";

const shown = make("p", { class: "value", "aria-hidden": "true" });

// It stays while the pointer is in its plot or over it, so that it can be pointed at.
function isHeld(event) {
  if (event.type !== "pointerover" || !shown.isConnected) return false;
  const box = shown.getBoundingClientRect();
  const over = event.clientX >= box.left && event.clientX <= box.right
    && event.clientY >= box.top && event.clientY <= box.bottom;
  return over || event.target.closest?.("svg") === shown.previousElementSibling;
}

function show(event) {
  const mark = event.target.closest?.("svg a[aria-label]");
  if (!mark && isHeld(event)) return;
  if (!mark) return shown.remove();
  shown.textContent = mark.getAttribute("aria-label");
  mark.closest("svg").after(shown);
}

for (const what of ["pointerover", "focusin"]) document.addEventListener(what, show);
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") shown.remove();
});
