// Forms of the whole job: what is filled in goes out as one object, what came of it is said. What is
// said while the page goes on to another, or loads anew, is said there.

import { ask, tell } from "./talk.js";

const TOLD = "voicelog-told";

document.addEventListener("submit", (event) => {
  if (!event.target.dataset.job) return;
  event.preventDefault();
  send(event.target);
});

function fieldsOf(form) {
  const fields = {};
  for (const one of form.elements) {
    if (!one.name || one.disabled) continue;
    if (one.type === "checkbox" && one.dataset.many !== undefined) {
      fields[one.name] ??= [];
      if (one.checked) fields[one.name].push(one.value);
    } else fields[one.name] = one.type === "checkbox" ? one.checked : one.value;
  }
  return fields;
}

async function send(form) {
  const buttons = [...form.querySelectorAll("button")];
  for (const one of buttons) one.disabled = true;
  if (form.dataset.wait) tell([form.dataset.wait]);
  const answer = await ask(form.dataset.job, fieldsOf(form));
  for (const one of buttons) one.disabled = false;
  if (answer.ok && "stay" in form.dataset) tell(answer.told);
  else if (answer.ok) follow(answer);
}

export function follow(answer) {
  sessionStorage.setItem(TOLD, JSON.stringify(answer.told));
  if (answer.go) location.assign(answer.go);
  else location.reload();
}

const told = JSON.parse(sessionStorage.getItem(TOLD) ?? "[]");
sessionStorage.removeItem(TOLD);
if (told.length) tell(told);
