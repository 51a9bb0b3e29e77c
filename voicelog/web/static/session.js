// A session: its rows are gone through, sound is played, and what a person decides is sent.

import { ask, busy, make, tell } from "./talk.js";
import { ABOVE_TOP, completer } from "./offers.js";
import { onKey } from "./once.js";
import { drawRow } from "./row.js";
import { isPlaying, play, stop } from "./sound.js";
import { State } from "./state.js";
import { Strip } from "./strip.js";
import { VirtualList } from "./virtual.js";

const AROUND_S = 0.7; // s of sound before and after an entry
const FIRST_REPS = 50;

const part = document.getElementById("session");
const state = new State(JSON.parse(document.getElementById("state").textContent));
const lists = {};
let current = null;
let waiting = false;
let everyRep = false;

const recording = part.dataset.recording;
const heard = new Set(JSON.parse(part.dataset.heard)); // guesses at talk whose sound was played to its end
const draftName = (name) => `draft ${name}`;
const address = () => `/api/session/${encodeURIComponent(part.dataset.key)}`;
const named = (name) => part.querySelector(`[data-part="${name}"]`);

// --- the rows --------------------------------------------------------------------------

function drawer(which) {
  return (name) => {
    const row = state.row(name);
    const order = state[which];
    const place = order.indexOf(name);
    const note = which === "check" && place === state.tonight && place
      ? "These may wait for another evening." : "";
    const sound = Boolean(part.dataset.sound);
    return drawRow(row, { numbers: state.numbersOf(row), now: name === current, place, of: order.length, note, sound, open: isOpen(row) });
  };
}

for (const which of ["check", "rest"]) {
  lists[which] = new VirtualList(document.querySelector(`[data-rows="${which}"]`), drawer(which));
}

const listOf = (name) => (state.check.includes(name) ? lists.check : lists.rest);
const element = (name) => (name ? document.getElementById(`e-${name}`) : null);
const slot = (name) => element(name)?.querySelector(".slot");
const every = () => [...state.check, ...state.rest];

function redraw(touched = null) {
  lists.check.set(state.check);
  lists.rest.set(state.rest);
  if (touched) {
    lists.check.again(touched);
    lists.rest.again(touched);
  }
}

function choose(name, { focus = true, at = null } = {}) {
  if (!name || !state.rows.of.has(name)) return;
  const before = current;
  current = name;
  if (before && before !== name) listOf(before).again([before]);
  const found = listOf(name).bring(name);
  if (!found.classList.contains("now")) listOf(name).again([name]);
  const shown = element(name);
  if (at !== null) window.scrollBy(0, shown.getBoundingClientRect().top - at);
  if (focus) {
    shown.querySelector(".pick").focus({ preventScroll: true });
    shown.scrollIntoView({ block: "nearest" });
  }
  for (const told of chosen) told(state.row(name));
}

const chosen = [];

function step(by) {
  const order = every();
  const place = order.indexOf(current);
  choose(order[Math.min(order.length - 1, Math.max(0, place + by))]);
}

const firstToCheck = () => state.check[0] ?? state.rows.order[0];

// --- what is not rows ------------------------------------------------------------------

function fill(box, html) {
  box.replaceChildren(document.createRange().createContextualFragment(html));
}

function showParts(parts) {
  const open = new Set([...document.querySelectorAll("[data-group][open]")].map((one) => one.dataset.group));
  for (const [name, html] of Object.entries(parts)) if (named(name)) fill(named(name), html);
  if (parts.findings === undefined) return;
  for (const one of document.querySelectorAll("[data-group]")) one.open = open.has(one.dataset.group);
}

function showReps() {
  const body = document.querySelector(".reps tbody");
  if (!body) return;
  const order = everyRep ? state.reps.order : state.reps.order.slice(0, FIRST_REPS);
  body.replaceChildren(...order.map((name) => {
    const rep = state.reps.of.get(name);
    const number = state.numbers.get(name);
    return make("tr", { class: rep.word.replace(" ", "-"), "data-rep": String(number) },
      make("td", { class: "word" }, rep.word), make("th", { scope: "row" }, String(number)), make("td", {}, rep.at || "-"),
      ...rep.cells.map((cell) => make("td", {}, make("bdi", {}, cell))));
  }));
  const more = document.getElementById("every-rep");
  more.hidden = everyRep || state.reps.order.length <= FIRST_REPS;
  more.textContent = `Show all ${state.reps.order.length} reps`;
}

async function showPlot() {
  const drawn = document.getElementById("drawn");
  if (!drawn?.open) return;
  const answer = await ask(`${address()}/plot`);
  if (answer.ok) fill(drawn.querySelector(".plot"), answer.html);
}

async function openGroup(group) {
  const answer = await ask(`${address()}/findings?group=${encodeURIComponent(group.dataset.group)}`);
  if (answer.ok) fill(group.querySelector(".opened"), answer.html);
}

document.addEventListener("toggle", (event) => {
  if (event.target.dataset?.group && event.target.open) openGroup(event.target);
  else if (event.target.id === "drawn") showPlot();
}, true);

// --- doing -----------------------------------------------------------------------------

function take(answer) {
  if (part.dataset.key !== answer.key) {
    part.dataset.key = answer.key;
    history.replaceState(null, "", `/session/${encodeURIComponent(answer.key)}`);
  }
  let touched = null;
  if (answer.whole) {
    state.take(answer.whole);
    touched = state.rows.order;
  } else touched = state.since(answer.since);
  showParts(answer.parts ?? answer.since.parts);
  redraw(touched);
  showReps();
  showPlot();
  for (const told of changed) told();
}

const changed = [];

async function act(deed, stay = false) {
  if (waiting) return false;
  waiting = true;
  busy(true);
  const wasToCheck = deed.entry && state.check.includes(deed.entry);
  const place = state.check.indexOf(deed.entry);
  const after = wasToCheck ? (state.check[place + 1] ?? state.check[place - 1]) : null;
  const at = element(current)?.getBoundingClientRect().top ?? null;
  const answer = await ask(`${address()}?seen=${encodeURIComponent(state.stamp)}`, deed);
  waiting = false;
  if (!answer.ok) {
    if (answer.error.code === "changed") await load(deed.entry);
    busy(false);
    return answer;
  }
  take(answer);
  tell(answer.changed.length ? answer.changed : [answer.done], { counts: answer.counts });
  const next = state.check.includes(after) ? after : state.check[0];
  choose((wasToCheck && !stay && next) || (state.rows.of.has(answer.entry) && answer.entry) || firstToCheck(), { at });
  busy(false);
  return answer;
}

async function load(entry) {
  const answer = await fetch(address(), { headers: { accept: "application/json" } });
  const found = await answer.json();
  if (!found.ok) return;
  take(found);
  choose(state.rows.of.has(entry) ? entry : firstToCheck());
}

const deedOn = (row) => ({ entry: row.id, version: row.version });

function hear(row) {
  if (!part.dataset.sound) return null; // the head of the page says so
  return play(recording, row.from - AROUND_S, row.to + AROUND_S, async (whole, stretch) => {
    if (!whole || row.confirm !== "take") return;
    const answer = await ask(`/api/played/${encodeURIComponent(recording)}`, stretch);
    if (!answer.ok || !answer.heard) return;
    heard.add(row.id);
    element(row.id)?.querySelector('[data-tool="confirm"]')?.setAttribute("aria-disabled", "false");
  });
}

// A guess at talk is taken only by who has heard the talk, where there is any sound of it.
const isOpen = (row) => row.confirm !== "take" || !part.dataset.sound || heard.has(row.id);

async function confirmOpen(row) {
  if (isOpen(row)) {
    const answer = await act({ do: "confirm", ...deedOn(row) });
    if (answer && !answer.ok && answer.error.code === ABOVE_TOP) retype(row, answer.error);
    return answer;
  }
  tell(["This is a guess at what is probably talk: hear it once to its end, then take it or leave it."]);
  return isPlaying() ? null : hear(row);
}

const tools = {
  play: hear,
  confirm: confirmOpen,
  void: (row) => act({ do: "void", ...deedOn(row) }),
  restore: (row) => act({ do: "restore", ...deedOn(row) }),
  retype: (row) => retype(row),
  move: pickDog,
  history: past,
};

// By a key only what was taken for a note is confirmed: pressed once too often, Enter must not
// make a record of the wind.
function confirmHeard(row) {
  if (row.word === "not understood") {
    tell(["This was not understood: type what it says with /, or leave it as it is."]);
  } else if (row.guessed) {
    tell(["What was typed is no note: take a reading by its number, or type it with /."]);
  } else if (row.word !== "void") {
    if (inSight(row.id)) tools.confirm(row);
    else {
      choose(row.id);
      tell(["This entry was out of sight: look at it now, then press Enter again."]);
    }
  }
}

function inSight(name) {
  const words = element(name)?.querySelector(".words").getBoundingClientRect();
  return Boolean(words) && words.top >= 0 && words.bottom <= window.innerHeight;
}

const read = (row, words, above_top = true) => act({ do: "read", ...deedOn(row), words, above_top });

function retype(row, refusal = null) {
  const form = make("form");
  const input = make("input", { type: "text", maxlength: "400", autocomplete: "off", "aria-label":
    "What the note says", placeholder: "what the note says" });
  const choices = make("ul", { class: "choices" });
  form.append(input, make("button", {}, "Keep"), choices);
  choose(row.id);
  slot(row.id).replaceChildren(form);
  const draft = sessionStorage.getItem(draftName(row.id));
  input.value = draft ?? asItStands(row);
  const complete = completer(input, choices, address(), row.id);
  input.addEventListener("input", () => sessionStorage.setItem(draftName(row.id), input.value));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const words = complete.meant();
    if (!words) return;
    const answer = await read(row, words, complete.isMeantAboveTop());
    if (answer && answer.ok) sessionStorage.removeItem(draftName(row.id));
    else if (answer) complete.refused(answer.error);
  });
  input.focus();
  input.select();
  if (refusal) complete.refused(refusal);
  else complete.ask(draft === null);
}

// What an entry says, to go on from; not a guess at talk, which nobody is to keep by Enter.
const asItStands = (row) => (row.wordless || row.confirm === "take" ? "" : row.said);

function pickDog(row) {
  const form = make("form");
  const select = make("select", { "aria-label": "Move to" });
  for (const dog of JSON.parse(part.dataset.dogs)) select.append(make("option", {}, dog));
  form.append(select, make("button", {}, "Move it"));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    act({ do: "move", ...deedOn(row), dog: select.value }, true);
  });
  slot(row.id).replaceChildren(form);
  select.focus();
}

async function past(row) {
  const answer = await ask(`/api/history/${encodeURIComponent(recording)}/${encodeURIComponent(row.id)}`);
  if (!answer.ok) return;
  const list = make("ol", { class: "past" });
  list.append(...answer.lines.map((line) => make("li", {}, line)));
  slot(row.id).replaceChildren(list);
}

// --- keys and clicks -------------------------------------------------------------------

const keys = {
  " ": (row) => (isPlaying() ? stop() : tools.play(row)),
  Enter: confirmHeard,
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  "/": (row) => retype(row),
  Delete: (row) => (row.word === "void" ? null : tools.void(row)),
};

onKey((event, typing) => {
  if (event.key === "Escape") {
    stop();
    closePanels();
    if (current) { slot(current)?.replaceChildren(); choose(current); }
    return;
  }
  if (typing) return;
  const row = state.row(current);
  const inTools = event.target.closest("button, a, summary") && !event.target.closest(".pick");
  if (row && keys[event.key] && !(inTools && (event.key === " " || event.key === "Enter"))) {
    event.preventDefault();
    keys[event.key](row);
  } else if (row && /^[1-9]$/.test(event.key)) {
    const words = row.word !== "void" ? row.offers?.[Number(event.key) - 1] : null;
    if (words) read(row, words);
  } else if (event.key === "u") stepBack("undo");
  else if (event.key === "r") stepBack("redo");
  else if (event.key === "a") { event.preventDefault(); openPanel("add"); }
  else if (event.key === "?") openPanel("keys");
});

function answerRep(asked, words) {
  return act({ do: "answer", rep: asked.dataset.question, version: asked.dataset.version, words }, true);
}

function stepBack(which) {
  const { version } = document.querySelector(`[data-step="${which}"]`).dataset;
  if (version) act({ do: which, version }, true);
  else tell([`There is nothing to ${which}.`]);
}

function closePanels() {
  document.querySelectorAll(".panel").forEach((panel) => { panel.hidden = true; });
}

function openPanel(name, at = null) {
  const panel = document.getElementById(name);
  const open = panel.hidden || at !== null;
  closePanels();
  panel.hidden = !open;
  if (!open) return;
  if (name === "add") {
    const form = panel.querySelector("form");
    delete form.dataset.until;
    if (at !== null) {
      form.at.value = seconds(at.from);
      form.dataset.until = at.to;
    } else if (form.at.closest("label").hidden) form.at.value = "0:00"; // typed without times: all are there
    else if (!form.at.value && current) form.at.value = seconds(state.row(current).to);
    if (!form.dataset.ready) {
      form.dataset.ready = "yes";
      form.complete = completer(form.words, form.querySelector(".choices"), address(), null);
    }
    form.words.focus();
  } else panel.querySelector("select, input, button").focus();
}

const seconds = (at) => `${Math.floor(at / 60)}:${(at % 60).toFixed(1).padStart(4, "0").replace(/\.0$/, "")}`;

function playRep(number) {
  const rep = state.reps.of.get(state.reps.order[number - 1]);
  const row = rep && state.rows.order.find((name) => state.row(name).reps.includes(rep.id));
  if (row) choose(row);
  if (rep && part.dataset.sound) play(recording, rep.from - AROUND_S, rep.to + AROUND_S);
}

document.addEventListener("click", (event) => {
  const on = (selector) => event.target.closest(selector);
  const name = on(".row")?.dataset.entry;
  if (name && name !== current) {
    const tool = on("[data-tool], [data-offer]");
    choose(name, { focus: Boolean(on(".pick")) });
    if (!tool) return;
  }
  const row = state.row(name);
  if (row && on("[data-tool]")) {
    const tool = on("[data-tool]").dataset.tool;
    if (tool === "play" && event.detail) element(name).querySelector(".pick").focus({ preventScroll: true }); // the keys are the entry's again
    tools[tool](row);
  }
  else if (row && on("[data-offer]")) read(row, on("[data-offer]").dataset.offer);
  else if (on("[data-answer]")) answerRep(on("[data-question]"), on("[data-answer]").dataset.answer);
  else if (on("[data-play]")) play(recording, Number(on("[data-play]").dataset.play), Number(on("[data-play]").dataset.until));
  else if (on("[data-rep-number]")) playRep(Number(on("[data-rep-number]").dataset.repNumber));
  else if (on("[data-step]")) stepBack(on("[data-step]").dataset.step);
  else if (on("[data-open]")) openPanel(on("[data-open]").dataset.open);
  else if (on("[data-close]")) { on(".panel").querySelector("form[data-add]")?.reset(); closePanels(); }
  else if (on("#every-rep")) { everyRep = true; showReps(); }
  const link = on(".plot a");
  if (link) {
    event.preventDefault();
    const target = link.getAttribute("href").slice(3);
    if (state.rows.of.has(target)) { choose(target); hear(state.row(target)); }
  }
});

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if ("add" in form.dataset) {
    event.preventDefault();
    const words = form.complete.meant();
    const [minutes, rest] = form.at.value.split(":");
    const at_s = 60 * minutes + Number(rest);
    const until = Number(form.dataset.until);
    const above_top = form.complete.isMeantAboveTop();
    const answer = await act({ do: "add", version: "", words, above_top, at_s, ...(until > at_s ? { until_s: until } : {}) }, true);
    if (answer && !answer.ok) form.complete.refused(answer.error);
    else if (answer) { form.reset(); closePanels(); }
  } else if ("answering" in form.dataset) {
    event.preventDefault();
    answerRep(form.closest("[data-question]"), form.words.value);
  } else if ("dog" in form.dataset) {
    event.preventDefault();
    act({ do: "dog", version: form.dataset.was, dog: form.dog.value }, true);
  } else if ("clock" in form.dataset) {
    event.preventDefault();
    act({ do: "clock", version: form.dataset.was, moment: form.moment.value }, true);
  }
});

window.addEventListener("beforeprint", () => { everyRep = true; showReps(); });

// --- the start -------------------------------------------------------------------------

const strip = document.getElementById("strip");
const narrow = matchMedia("(max-width: 40rem)");

// On a phone what is to check comes before the timeline, for the eye and for the keyboard alike.
function placeStrip() {
  if (narrow.matches) document.querySelector("[data-rows=rest]").previousElementSibling.before(strip);
  else document.querySelector(".desk").before(strip);
}

placeStrip();
narrow.addEventListener("change", placeStrip);
if (Number(part.dataset.length) || part.dataset.sound) {
  strip.hidden = false;
  const drawn = new Strip(strip, {
    recording, length: Number(part.dataset.length), sound: Boolean(part.dataset.sound), state,
    current: () => current, chosen: (name) => choose(name, { focus: false }), add: (stretch) => openPanel("add", stretch),
  });
  chosen.push((row) => drawn.refresh(row));
  changed.push(() => drawn.refresh());
}
redraw();
showReps();
showPlot();
const number = /^#rep-(\d+)$/.exec(location.hash)?.[1];
const rep = number && state.reps.order[Number(number) - 1];
const hash = location.hash.startsWith("#e-") ? location.hash.slice(3) : null;
choose((rep && state.rows.order.find((name) => state.row(name).reps.includes(rep)))
  || (hash && state.rows.of.has(hash) && hash) || firstToCheck());
document.documentElement.dataset.ready = "session";
