// What a mark of a plot stands for, shown while it is pointed at or has the keys.

import { make } from "./talk.js";

const THUMB_PX = 44;
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
  if (!mark && (isHeld(event) || shown.contains(event.target))) return;
  if (!mark) return shown.remove();
  shown.textContent = mark.getAttribute("aria-label");
  mark.closest("svg").after(shown);
}

// A thumb cannot tell narrow columns apart: there a touch shows which one it met, and the way to it.
function touch(event) {
  const mark = event.target.closest?.("svg a[aria-label]");
  if (!mark || event.pointerType !== "touch") return;
  if (mark.getBoundingClientRect().width >= THUMB_PX) return;
  event.preventDefault();
  const way = make("a", { href: mark.getAttribute("href"), tabindex: "-1" });
  way.textContent = mark.getAttribute("aria-label");
  shown.replaceChildren(way);
  mark.closest("svg").after(shown);
}

document.addEventListener("click", touch);
for (const what of ["pointerover", "focusin"]) document.addEventListener(what, show);
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") shown.remove();
});
