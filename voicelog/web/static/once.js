// A key that does something does it once each time it is pressed. Held, it does no more, whether or
// not the keyboard says that it repeats: else Enter would confirm entries that nobody has seen.
// Held arrows and Tab still go along: they change nothing.

const held = new Set();
const acting = /^(Enter|Delete| |[0-9]|[urna/?])$/;

document.addEventListener("keydown", (event) => {
  if (!acting.test(event.key) || event.ctrlKey || event.metaKey || event.altKey) return;
  const again = event.repeat || held.has(event.code);
  if (event.code) held.add(event.code);
  const typing = event.target.closest("input, select, textarea");
  if (again && (event.key === "Enter" || !typing)) {
    event.preventDefault();
    event.stopImmediatePropagation();
  }
}, true);
document.addEventListener("keyup", (event) => held.delete(event.code), true);
window.addEventListener("blur", () => held.clear());

// Who dictates to the browser, or leans on a key, can do without letters and digits that act.
const LETTERS = "voicelog-letters";
export const lettersAct = () => localStorage.getItem(LETTERS) !== "off";
export const letLettersAct = (act) => localStorage.setItem(LETTERS, act ? "on" : "off");

// Keys by name, when nothing is being typed.
export function onKey(act) {
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (/^\S$/.test(event.key) && !lettersAct()) return;
    act(event, Boolean(event.target.closest("input, select, textarea")));
  });
}
