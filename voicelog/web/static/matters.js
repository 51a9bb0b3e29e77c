// Open matters: closing one, and opening it again.

import { ask } from "./talk.js";

document.addEventListener("submit", (event) => {
  if (!("matter" in event.target.dataset)) return;
  event.preventDefault();
  actOnMatter(event.target);
});

async function actOnMatter(form) {
  const { matter, version } = form.dataset;
  const consulted = form.consulted ? form.consulted.value : "";
  const content = { do: form.dataset.do, id: matter, version, reason: form.reason.value, consulted };
  const answer = await ask("/api/matter", content);
  if (answer.ok) location.reload();
}
