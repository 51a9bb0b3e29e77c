// What may be meant by what is typed. What Enter takes is what stands in the field, or the reading
// that is marked in the list and was there to be seen for just these words. Words that are no note
// are never turned into others: what lies near is listed with nothing marked, and a person goes
// down to it or does not.

import { make } from "./talk.js";

export const ABOVE_TOP = "above-top";
const NO_NOTE = "Not a note as typed. Choose one with Down, or type on.";
const TO_KEEP = "To keep it all the same, choose it with Down; or type on.";

export function completer(input, list, address, entry) {
  let offered = [];
  let at = -1;
  let latest = 0;
  let why = ""; // nothing is marked
  const hint = make("p", { class: "hint", role: "status" });
  list.before(hint);
  const name = `choices-${Math.random().toString(36).slice(2)}`;
  list.id = name;
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Readings");
  for (const [key, value] of Object.entries({ role: "combobox", "aria-controls": name,
    "aria-expanded": "false", "aria-autocomplete": "list" })) input.setAttribute(key, value);

  function draw() {
    list.replaceChildren(...offered.map((words, place) => {
      const item = make("li", { role: "option", id: `${name}-${place}`, "aria-selected": String(place === at) }, words);
      item.addEventListener("mousedown", (event) => {
        event.preventDefault();
        at = place;
        input.form.requestSubmit();
      });
      return item;
    }));
    list.hidden = offered.length === 0;
    hint.textContent = at < 0 && offered.length && input.value.trim() ? why : "";
    input.setAttribute("aria-expanded", String(offered.length > 0));
    if (at >= 0) input.setAttribute("aria-activedescendant", `${name}-${at}`);
    else input.removeAttribute("aria-activedescendant");
  }

  function offer(words, marked, because = NO_NOTE) {
    offered = words;
    why = because;
    at = marked && offered.length ? 0 : -1;
    draw();
  }

  // `asIs`: the field holds what stands, and what is on offer for that is asked for, not for the words.
  function request(asIs = false) {
    const mine = ++latest;
    const query = new URLSearchParams({ text: asIs ? "" : input.value, entry: entry ?? "" });
    at = -1;
    draw();
    fetch(`${address}/readings?${query}`, { headers: { accept: "application/json" } })
      .then((reply) => reply.json())
      .then((answer) => { if (mine === latest && answer.ok) offer(answer.readings, answer.marked, asIs ? "" : NO_NOTE); })
      .catch(() => undefined);
  }

  input.addEventListener("input", () => request());
  input.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      if (!offered.length) return;
      event.preventDefault();
      at = (at + (event.key === "ArrowDown" ? 1 : -1) + offered.length) % offered.length;
      draw();
    }
  });
  draw();
  return {
    ask: request,
    refused: (error) => {
      if (error.offers.length) offer(error.offers, false, error.code === ABOVE_TOP ? TO_KEEP : NO_NOTE);
    },
    meant: () => (at >= 0 ? offered[at] : input.value.trim()),
    isMeantAboveTop: () => at >= 0 && why === TO_KEEP,
  };
}
