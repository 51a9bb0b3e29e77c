// An entry as the list shows it.

import { make } from "./talk.js";

const tool = (name, text, key = "") =>
  make("button", { type: "button", "data-tool": name }, text, key ? " " : "", key ? make("kbd", {}, key) : "");

function tools(row, sound, open) {
  const made = sound ? [tool("play", "Play", "Space")] : [];
  if (row.confirm === "take") {
    const take = tool("confirm", "Take this guess");
    take.setAttribute("aria-disabled", String(!open));
    made.push(take);
  } else if (row.confirm) made.push(tool("confirm", "Confirm", "Enter"));
  made.push(tool("retype", "Retype", "/"));
  made.push(row.word === "void" ? tool("restore", "Restore") : tool("void", "Void", "Delete"));
  made.push(tool("move", "Other dog"), tool("history", "History"));
  return made;
}

function reading(words, place) {
  return make("li", {}, make("button", { type: "button", "data-offer": words },
    make("kbd", {}, String(place + 1)), " ", make("bdi", {}, words)));
}

// `numbers` are those of the entry's reps, `place` says where it is in its list, `sound` whether
// there is any to play, `open` whether a guess at talk may be taken.
export function drawRow(row, { numbers, now, place, of, note, sound, open }) {
  const about = [
    row.why ? make("span", { class: "why" }, row.why) : "",
    numbers.length ? make("span", {}, `${numbers.length === 1 ? "rep" : "reps"} ${numbers.join(", ")}`) : "",
    ...row.facts.map((fact) => make("span", {}, fact)),
  ];
  const said = make("div", { class: "said" },
    make("button", { class: "pick", type: "button", tabindex: now ? "0" : "-1", "aria-expanded": String(now) },
      make("span", { class: "unseen" }, `${row.word}${row.at && ` at ${row.at}`}: `),
      make("span", { class: "words" }, make("bdi", {}, row.said))),
    make("p", { class: "about" }, ...about),
    row.offers?.length
      ? make("ol", { class: "offers", "aria-label": "Readings on offer" }, ...row.offers.map(reading)) : "",
    make("div", { class: "tools" }, ...(now ? tools(row, sound, open) : [])),
    make("div", { class: "slot" }));
  const kind = row.word.replace(" ", "-");
  return make("li", { class: `row ${kind}${row.loose ? " loose" : ""}${now ? " now" : ""}`, id: `e-${row.id}`,
    "data-entry": row.id, "data-word": row.word, "aria-posinset": String(place + 1), "aria-setsize": String(of) },
    note ? make("p", { class: "may-wait" }, note) : "",
    make("div", { class: "edge" }, make("b", { class: "word" }, row.word), " ", make("span", { class: "at" }, row.at)),
    said);
}
