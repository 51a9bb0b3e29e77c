// Files brought to the page: sent in pieces, one file after the other, and how far each is.

import { ask, make, tell } from "./talk.js";

const PIECE = 1024 * 1024;
const token = document.querySelector('meta[name="voicelog-token"]').content;
const list = document.getElementById("incoming");
const form = document.getElementById("bring");
const waiting = [];
let sending = false;
let asking = null;
let shown = 0;

for (const [id, kind] of [["files", "recording"], ["backup", "backup"], ["card", "card"]]) {
  const input = document.getElementById(id);
  if (!input) continue;
  input.addEventListener("change", () => bring(input, kind));
  if (input.files.length) bring(input, kind); // chosen before this ran
}
for (const name of ["dragover", "drop"]) {
  document.addEventListener(name, (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    if (name === "drop") queue([...event.dataTransfer.files], list.dataset.kind ?? "recording");
  });
}

function bring(input, kind) {
  queue([...input.files], kind);
  input.value = "";
}

async function queue(files, kind) {
  const about = {
    kind,
    dogs: [...(form?.querySelectorAll("[name=dogs]:checked") ?? [])].map((one) => one.value),
    at: form?.elements.at.value ?? "",
  };
  waiting.push(...files.map((file) => ({ file, about })));
  if (sending) return;
  sending = true;
  while (waiting.length) await send(waiting.shift());
  sending = false;
}

async function send({ file, about }) {
  const stamp = String(file.lastModified);
  let far = await ask("/api/incoming", { ...about, name: file.name, size: file.size, stamp });
  const { id } = far;
  while (far.ok && far.state === "arriving" && far.have < file.size) {
    far = await put(`/api/incoming/${id}/bytes?at=${far.have}`, file.slice(far.have, far.have + PIECE));
    show();
  }
  if (far.ok) show();
}

async function put(address, piece) {
  for (let again = 0; ; again += 1) {
    try {
      const headers = { "x-voicelog-token": token, accept: "application/json" };
      const answer = await (await fetch(address, { method: "POST", body: piece, headers })).json();
      if (!answer.ok) tell([answer.error.message], { bad: true });
      return answer;
    } catch {
      if (again === 4) {
        tell(["The file broke off: choose it again when 'voicelog review' answers, and it goes on."], { bad: true });
        return { ok: false };
      }
      await new Promise((go) => setTimeout(go, 500 * 2 ** again));
    }
  }
}

async function show() {
  const mine = ++shown;
  clearTimeout(asking);
  const answer = await ask(`/api/incoming?kind=${list.dataset.kind ?? ""}`);
  if (mine !== shown) return; // a later one is on its way, or was here first
  if (!answer.ok) {
    asking = setTimeout(show, 5000);
    return;
  }
  const at = document.activeElement?.dataset?.key;
  list.replaceChildren(...answer.files.map(row));
  if (at) list.querySelector(`[data-key="${at}"]`)?.focus();
  clearTimeout(asking);
  if (answer.files.some((one) => one.busy)) asking = setTimeout(show, 700);
}

function row(one) {
  const bar = one.part === null ? "" : make("progress", { max: 1, value: one.part, "aria-label": `How far ${one.name} is` });
  const page = one.page ? make("a", { href: one.page }, one.state === "done" ? "Open it" : "See it") : "";
  const act = (what, words) => {
    const button = make("button", { type: "button", "data-key": `${what} ${one.id}` }, words);
    button.addEventListener("click", async () => {
      const answer = await ask(`/api/incoming/${one.id}`, { do: what });
      if (answer.ok) show();
    });
    return button;
  };
  const anyway = one.state === "like another" ? act("anyway", "Add it anyway") : "";
  const off = one.state === "hearing" ? "" : act("forget", "Remove from this list");
  return make("li", { class: "panel", "data-state": one.state },
    make("p", {}, make("b", {}, make("bdi", {}, one.name))), make("p", {}, one.words), bar,
    ...(one.lines.length ? [make("ul", {}, ...one.lines.map((line) => make("li", {}, line)))] : []),
    make("p", { class: "steps" }, page, anyway, off));
}

show();
