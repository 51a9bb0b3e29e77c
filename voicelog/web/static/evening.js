// The evening queue: one card at a time over all sessions. A card plays by itself; it is decided by
// who has seen it, and one that a stop may hang on by who has heard it once.

import { ask, busy, hush, make, tell } from "./talk.js";
import { ABOVE_TOP, completer } from "./offers.js";
import { onKey } from "./once.js";
import { isPlaying, play, playhead, stop } from "./sound.js";
import { drawSound, inks, loudness, pencil } from "./strip.js";

const AROUND_S = 0.7; // s of sound before and after
const NEAR_S = 12; // s of the strip on each side
const SEEN_MS = 250; // a card that was shown for less has been seen by nobody
const HEIGHT = 64;

const box = document.getElementById("evening");
const card = box.querySelector(".card");
const kept = `evening ${box.dataset.dog}`;
let cards = [];
let waiting = "";
let at = null;
let shownAt = 0;
let sending = false;
const heard = new Set(); // those played to their end, also before the page was loaded
const later = new Set();
let undos = JSON.parse(sessionStorage.getItem(`${kept} undos`) ?? "[]");

const nameOf = (one) => `${one.kind} ${one.id}`;
const now = () => cards.find((one) => nameOf(one) === at) ?? null;

const draftName = (one) => `evening draft ${nameOf(one)}`;

function remember() {
  localStorage.setItem(kept, JSON.stringify({ at, later: [...later] }));
  sessionStorage.setItem(`${kept} undos`, JSON.stringify(undos));
}

function known(all) {
  for (const one of all) if (one.heard) heard.add(nameOf(one));
  return order(all);
}

// As the server puts them in order: by the first in which two differ.
function order(all) {
  return all.sort((a, b) => {
    const at = a.order.findIndex((one, place) => one !== b.order[place]);
    return at < 0 ? 0 : a.order[at] < b.order[at] ? -1 : 1;
  });
}

// --- showing ---------------------------------------------------------------------------

function draw() {
  const one = now();
  if (!one) return;
  const near = card.querySelector(".near");
  const width = Math.max(120, near.clientWidth);
  const ink = inks();
  const pen = pencil(near.querySelector("canvas"), width, HEIGHT);
  const middle = (one.from + one.to) / 2;
  const half = Math.max(NEAR_S, one.to - one.from);
  const view = { from: Math.max(0, middle - half), to: Math.max(0, middle - half) + 2 * half };
  drawSound(pen, one.recording, view, width, HEIGHT, ink);
  const x = (time) => ((time - view.from) / (view.to - view.from)) * width;
  pen.strokeStyle = ink.caution;
  pen.lineWidth = 2;
  pen.strokeRect(x(one.from), 1, Math.max(4, x(one.to) - x(one.from)), HEIGHT - 2);
  const head = playhead();
  if (head === null) return;
  pen.fillStyle = ink.stop;
  pen.fillRect(x(head) - 1, 0, 2, HEIGHT);
  requestAnimationFrame(draw);
}

function count() {
  const left = cards.length;
  const put = later.size ? `, ${later.size} put off` : "";
  document.getElementById("left").textContent = left
    ? `${left} to check${put}${waiting ? `; ${waiting}` : ""}` : "";
}

// What the keys do now: whether it plays, and whether it may be decided before that is over.
function showKeys() {
  const one = now();
  if (!one) return;
  const [plays, open] = [isPlaying(), isOpen(one)];
  card.querySelector('[data-act="play"]').replaceChildren(plays ? "Stop " : "Play ", make("kbd", {}, "Space"));
  for (const button of card.querySelectorAll('[data-act="confirm"], [data-act="void"], [data-offer]')) button.setAttribute("aria-disabled", String(!open));
  const wait = plays ? "Playing. You can decide when you have heard its end." : "Play it to its end, then decide: a stop may hang on it.";
  card.querySelector(".now").textContent = !one.recording ? "No sound: decide by what is written."
    : open ? (plays ? "Playing. You can decide now, or listen on." : heard.has(nameOf(one)) ? "" : "Space plays it.") : wait;
}

function show(name) {
  stop();
  at = name;
  const one = now();
  card.hidden = !one;
  box.querySelector(".none").hidden = Boolean(one);
  count();
  remember();
  document.documentElement.dataset.card = name ?? "";
  if (!one) return;
  card.querySelector(".whose").replaceChildren(make("bdi", {}, one.dog), `, ${one.day}${one.at}`);
  card.querySelector(".asked").replaceChildren(make("bdi", {}, one.said));
  card.querySelector(".about").replaceChildren(...[one.why, one.around].filter(Boolean).map((text) => make("span", {}, text)));
  card.querySelector(".offers").replaceChildren(...one.offers.map((words, place) =>
    make("li", {}, make("button", { type: "button", "data-offer": words }, make("kbd", {}, String(place + 1)), " ", make("bdi", {}, words)))));
  card.querySelector(".slot").replaceChildren();
  card.querySelector('[data-act="confirm"]').hidden = !one.confirm;
  card.querySelector('[data-act="void"]').hidden = one.kind === "rep";
  card.querySelector(".near").hidden = !one.recording;
  card.querySelector('[data-act="play"]').hidden = !one.recording;
  card.querySelector(".its").href = `/session/${encodeURIComponent(one.key)}#${one.kind === "entry" ? `e-${one.id}` : ""}`;
  card.querySelector(".asked").focus({ preventScroll: true });
  shownAt = performance.now();
  if (one.recording) {
    loudness(one.recording, draw);
    draw();
    hear(one);
  }
  showKeys();
}

// To another card without deciding: what was said of this one goes with it.
function move(name) {
  hush();
  show(name);
}

async function hear(one) {
  // A browser that plays nothing by itself waits for a key first: the line over the keys says which.
  await play(one.recording, one.from - AROUND_S, one.to + AROUND_S, async (whole, stretch) => {
    if (whole && !heard.has(nameOf(one))) {
      const answer = one.must ? await ask(`/api/played/${encodeURIComponent(one.recording)}`, stretch) : null;
      if (!answer || answer.heard) heard.add(nameOf(one));
    }
    draw();
    showKeys();
  });
  draw();
  showKeys();
}

function next(from, was) {
  const place = was.findIndex((one) => nameOf(one) === from);
  const there = new Set(cards.map(nameOf));
  const after = [...was.slice(place + 1), ...was.slice(0, place + 1)].map(nameOf).filter((name) => there.has(name));
  const fresh = after.find((name) => !later.has(name) && name !== from);
  return fresh ?? cards.map(nameOf).find((name) => !later.has(name)) ?? after[0] ?? cards.map(nameOf)[0] ?? null;
}

// --- deciding --------------------------------------------------------------------------

const isOpen = (one) => !one.must || heard.has(nameOf(one));

function ready(one) {
  if (performance.now() - shownAt < SEEN_MS) return false;
  if (isOpen(one)) return true;
  tell(["A stop may hang on this: hear it once to its end, then decide."]);
  if (!isPlaying()) hear(one);
  return false;
}

async function act(one, deed) {
  if (sending || !ready(one)) return null;
  sending = true;
  busy(true);
  const answer = await ask(`/api/evening/${encodeURIComponent(one.key)}`, deed);
  sending = false;
  if (!answer.ok) {
    busy(false);
    if (answer.error.code === "changed") await load();
    return answer;
  }
  const name = nameOf(one);
  const was = cards;
  take(one.key, answer);
  if (answer.undo) undos.push({ key: answer.key, id: answer.undo, name });
  later.delete(name);
  sessionStorage.removeItem(draftName(one));
  tell(answer.changed.length ? answer.changed : [answer.done], { counts: answer.counts });
  show(next(name, was));
  busy(false);
  return answer;
}

function take(key, answer) {
  const others = cards.filter((one) => one.key !== key && one.key !== answer.key);
  cards = known([...others, ...answer.cards]);
}

function confirm(one) {
  if (one.kind === "rep") tell(["Say how it was: by its number, or typed with /."]);
  else if (!one.confirm) tell(["What was typed is no note: take a reading by its number, or type it with /."]);
  else confirmIt(one);
}

async function confirmIt(one) {
  const answer = await act(one, { do: "confirm", entry: one.id, version: one.version });
  if (answer && !answer.ok && answer.error.code === ABOVE_TOP) type(one, answer.error);
}

function read(one, words, above_top = true) {
  if (one.kind === "rep") return act(one, { do: "answer", rep: one.id, version: one.version, words });
  return act(one, { do: "read", entry: one.id, version: one.version, words, above_top });
}

function type(one, refusal = null) {
  const form = make("form");
  const input = make("input", { type: "text", maxlength: "400", autocomplete: "off", "aria-label":
    "What the note says", placeholder: "what the note says" });
  const choices = make("ul", { class: "choices" });
  form.append(input, make("button", {}, "Keep"), choices);
  card.querySelector(".slot").replaceChildren(form);
  const draft = sessionStorage.getItem(draftName(one));
  input.value = draft ?? (one.kind === "entry" && !one.wordless ? one.said : "");
  input.addEventListener("input", () => sessionStorage.setItem(draftName(one), input.value));
  const complete = completer(input, choices, `/api/session/${encodeURIComponent(one.key)}`, one.kind === "entry" ? one.id : null);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const words = complete.meant();
    const answer = words && await read(one, words, complete.isMeantAboveTop());
    if (answer && !answer.ok) complete.refused(answer.error);
  });
  input.focus();
  input.select();
  if (refusal) complete.refused(refusal);
  else complete.ask(draft === null);
}

async function undo() {
  const last = undos.at(-1);
  if (!last) return tell(["There is nothing to undo in this evening."]);
  if (sending) return null;
  sending = true;
  busy(true);
  const answer = await ask(`/api/evening/${encodeURIComponent(last.key)}`, { do: "undo", version: last.id });
  sending = false;
  busy(false);
  if (!answer.ok) return null;
  undos.pop();
  take(last.key, answer);
  tell(answer.changed.length ? answer.changed : [answer.done], { counts: answer.counts });
  const there = cards.map(nameOf);
  return show(there.includes(last.name) ? last.name : next(at, cards));
}

function putOff(one) {
  later.add(nameOf(one));
  move(next(nameOf(one), cards));
}

function back(one) {
  const place = cards.indexOf(one);
  move(nameOf(cards[(place - 1 + cards.length) % cards.length]));
}

const acts = {
  play: (one) => (isPlaying() ? stop() : hear(one)),
  confirm,
  type: (one) => type(one),
  void: (one) => act(one, { do: "void", entry: one.id, version: one.version }),
  later: putOff,
  back,
};
const keys = { " ": "play", Enter: "confirm", "/": "type", Delete: "void", ArrowRight: "later", ArrowLeft: "back" };

onKey((event, typing) => {
  const one = now();
  if (event.key === "Escape" && one) {
    stop();
    card.querySelector(".slot").replaceChildren();
    card.querySelector(".asked").focus();
  }
  if (typing) return;
  if (event.key === "u") { undo(); return; }
  const onButton = event.target.closest("button, a, summary");
  if (!one || (onButton && (event.key === " " || event.key === "Enter"))) return;
  if (keys[event.key]) {
    event.preventDefault();
    if (event.key === "Delete" && one.kind === "rep") return;
    acts[keys[event.key]](one);
  } else if (/^[1-9]$/.test(event.key)) {
    const words = one.offers[Number(event.key) - 1];
    if (words) read(one, words);
  }
});

box.addEventListener("click", (event) => {
  const what = event.target.closest("[data-act]")?.dataset.act;
  const words = event.target.closest("[data-offer]")?.dataset.offer;
  const one = now();
  if (event.detail && (what || words)) card.querySelector(".asked").focus(); // after a click the keys decide again
  if (what === "undo") undo();
  else if (one && what) acts[what](one);
  else if (one && words) read(one, words);
});

window.addEventListener("resize", draw);

// --- the start -------------------------------------------------------------------------

async function load() {
  const dog = box.dataset.dog;
  const answer = await ask(`/api/evening${dog ? `?dog=${encodeURIComponent(dog)}` : ""}`);
  if (!answer.ok) return;
  cards = known(answer.cards);
  waiting = answer.waiting;
  const there = new Set(cards.map(nameOf));
  const was = JSON.parse(localStorage.getItem(kept) ?? "{}");
  for (const name of was.later ?? []) if (there.has(name)) later.add(name);
  const first = cards.map(nameOf).find((name) => !later.has(name)) ?? cards.map(nameOf)[0] ?? null;
  show(there.has(was.at) ? was.at : first);
}

load();
