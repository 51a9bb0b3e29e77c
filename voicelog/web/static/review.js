// The keys and the changes of the review page. Pages come whole from the server; here rows are
// gone through, sound is played, and what a person decides is sent. No text is ever put into
// the page as HTML but what the server has rendered.
"use strict";

const token = document.querySelector('meta[name="voicelog-token"]').content;
const said = document.getElementById("said");
const player = document.getElementById("player");

function tell(lines, bad = false) {
  said.className = bad ? "bad" : "";
  said.replaceChildren(...lines.map((line) => make("p", {}, line)));
}

function make(tag, attributes = {}, text = "") {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text) made.textContent = text;
  return made;
}

async function ask(address, content) {
  const options = { headers: { accept: "application/json" } };
  if (content !== undefined) {
    options.method = "POST";
    options.body = JSON.stringify(content);
    options.headers["content-type"] = "application/json";
    options.headers["x-voicelog-token"] = token;
  }
  let answer;
  try {
    const reply = await fetch(address, options);
    answer = await reply.json();
  } catch {
    answer = { ok: false, error: { code: "gone", offers: [], message:
      "The page's program does not answer: see that 'voicelog review' still runs. Nothing was done." } };
  }
  if (!answer.ok) tell([answer.error.message], true);
  return answer;
}

// --- settings of this reader -----------------------------------------------------------

document.querySelector("[data-prefs]")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = new FormData(event.target);
  const answer = await ask("/api/prefs", { who: form.get("who"), budget: Number(form.get("budget")) });
  if (answer.ok) location.reload();
});

// --- a session -------------------------------------------------------------------------

const part = () => document.getElementById("session");
const rows = () => [...document.querySelectorAll(".row")];
const current = () => document.querySelector(".row.now");
const draftName = (row) => `draft ${row.dataset.entry}`;
let busy = false;

function choose(row, focus = true) {
  if (!row) return;
  const before = current();
  if (before && before !== row) leave(before);
  row.classList.add("now");
  const pick = row.querySelector(".pick");
  pick.tabIndex = 0;
  pick.setAttribute("aria-expanded", "true");
  if (focus) {
    pick.focus({ preventScroll: true });
    row.scrollIntoView({ block: "nearest" });
  }
}

function leave(row) {
  row.classList.remove("now");
  row.querySelector(".pick").tabIndex = -1;
  row.querySelector(".pick").setAttribute("aria-expanded", "false");
  row.querySelector(".slot").replaceChildren();
}

function step(by) {
  const all = rows();
  const place = all.indexOf(current());
  choose(all[Math.min(all.length - 1, Math.max(0, place + by))]);
}

function firstToCheck() {
  return document.querySelector('[data-rows="check"] .row') ?? rows()[0];
}

function address() {
  return `/api/session/${encodeURIComponent(part().dataset.key)}`;
}

async function act(deed, stay = false) {
  if (busy) return false;
  busy = true;
  const wasToCheck = deed.entry && document.getElementById(`e-${deed.entry}`)?.dataset.word === "check";
  const after = nextToCheck(deed.entry);
  const answer = await ask(address(), deed);
  busy = false;
  if (!answer.ok) {
    if (answer.error.code === "changed") await load(deed.entry);
    return answer;
  }
  show(answer.html, answer.key);
  tell(answer.changed.length ? answer.changed : [answer.done]);
  const moved = wasToCheck && !stay;
  const waiting = '[data-rows="check"] .row';
  const next = after && document.getElementById(after)?.closest(waiting);
  choose((moved && (next ?? document.querySelector(waiting))) ||
    document.getElementById(`e-${answer.entry}`) || firstToCheck());
  return answer;
}

function nextToCheck(entry) {
  const all = [...document.querySelectorAll('[data-rows="check"] .row')];
  const place = all.findIndex((row) => row.dataset.entry === entry);
  return place < 0 ? null : (all[place + 1] ?? all[place - 1])?.id;
}

function show(html, key) {
  const made = document.createRange().createContextualFragment(html);
  part().replaceWith(made);
  if (!location.pathname.endsWith(encodeURIComponent(key))) {
    history.replaceState(null, "", `/session/${encodeURIComponent(key)}`);
  }
}

async function load(entry) {
  const answer = await fetch(address(), { headers: { accept: "application/json" } });
  const found = await answer.json();
  if (found.ok) {
    show(found.html, found.key);
    choose(document.getElementById(`e-${entry}`) ?? firstToCheck());
  }
}

async function play(from, to, row) {
  if (!part().dataset.sound) return tell(["There is no sound to play for this recording."], true);
  const of = encodeURIComponent(part().dataset.recording);
  document.querySelector(".playing")?.classList.remove("playing");
  player.src = `/sound/${of}.wav?from=${from}&to=${to}`;
  row?.classList.add("playing");
  player.onended = () => row?.classList.remove("playing");
  try {
    await player.play();
  } catch (error) {
    row?.classList.remove("playing");
    if (error.name !== "AbortError") {
      const answer = await fetch(player.src, { headers: { accept: "application/json" } });
      const found = answer.ok ? null : await answer.json();
      tell([found ? found.error.message : "This browser could not play the clip."], true);
    }
  }
}

const tools = {
  play: (row) => play(row.dataset.from, row.dataset.to, row),
  confirm: (row) => act({ do: "confirm", entry: row.dataset.entry, version: row.dataset.version }),
  void: (row) => act({ do: "void", entry: row.dataset.entry, version: row.dataset.version }),
  restore: (row) => act({ do: "restore", entry: row.dataset.entry, version: row.dataset.version }),
  retype,
  move: pickDog,
  history: past,
};

// By a key only what was taken for a note is confirmed: pressed once too often, Enter must not
// make a record of the wind.
function confirmHeard(row) {
  if (row.dataset.word === "not understood") {
    tell(["This was not understood: type what it says with /, or leave it as it is."]);
  } else if ("guessed" in row.dataset) {
    tell(["What was typed is no note: take a reading by its number, or type it with /."]);
  } else if (row.dataset.word !== "void") {
    if (inSight(row)) tools.confirm(row);
    else {
      choose(row);
      tell(["This entry was out of sight: look at it now, then press Enter again."]);
    }
  }
}

function inSight(row) {
  const words = row.querySelector(".words").getBoundingClientRect();
  return words.top >= 0 && words.bottom <= window.innerHeight;
}

function read(row, words) {
  return act({ do: "read", entry: row.dataset.entry, version: row.dataset.version, words });
}

function retype(row) {
  const form = make("form");
  const input = make("input", { type: "text", maxlength: "400", autocomplete: "off", "aria-label":
    "What was said", placeholder: "what was said" });
  const choices = make("ul", { class: "choices" });
  form.append(input, make("button", {}, "Keep"), choices);
  row.querySelector(".slot").replaceChildren(form);
  input.value = sessionStorage.getItem(draftName(row)) ?? "";
  const complete = completer(input, choices, row.dataset.entry);
  input.addEventListener("input", () => sessionStorage.setItem(draftName(row), input.value));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const words = complete.meant();
    if (!words) return;
    const answer = await read(row, words);
    if (answer && answer.ok) sessionStorage.removeItem(draftName(row));
    else if (answer) complete.refused(answer.error.offers);
  });
  input.focus();
  complete.ask();
}

function pickDog(row) {
  const dogs = JSON.parse(part().dataset.dogs);
  const form = make("form");
  const select = make("select", { "aria-label": "Move to" });
  for (const dog of dogs) select.append(make("option", {}, dog));
  form.append(select, make("button", {}, "Move it"));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    act({ do: "move", entry: row.dataset.entry, version: row.dataset.version, dog: select.value }, true);
  });
  row.querySelector(".slot").replaceChildren(form);
  select.focus();
}

async function past(row) {
  const of = encodeURIComponent(part().dataset.recording);
  const answer = await ask(`/api/history/${of}/${encodeURIComponent(row.dataset.entry)}`);
  if (!answer.ok) return;
  const list = make("ol", { class: "past" });
  list.append(...answer.lines.map((line) => make("li", {}, line)));
  row.querySelector(".slot").replaceChildren(list);
}

// --- completion ------------------------------------------------------------------------

// What Enter takes is what stands in the field, or the reading that is marked in the list and was
// there to be seen for just these words. Words that are no note are never turned into
// others: what lies near is listed with nothing marked, and a person goes down to it or does not.
function completer(input, list, entry) {
  let offered = [];
  let at = -1;
  let latest = 0;
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
    hint.textContent = at < 0 && offered.length && input.value.trim()
      ? "Not a note as typed. Choose one with Down, or type on." : "";
    input.setAttribute("aria-expanded", String(offered.length > 0));
    if (at >= 0) input.setAttribute("aria-activedescendant", `${name}-${at}`);
    else input.removeAttribute("aria-activedescendant");
  }

  function offer(words, marked) {
    offered = words;
    at = marked && offered.length ? 0 : -1;
    draw();
  }

  function request() {
    const mine = ++latest;
    const query = new URLSearchParams({ text: input.value, entry: entry ?? "" });
    at = -1;
    draw();
    fetch(`${address()}/readings?${query}`, { headers: { accept: "application/json" } })
      .then((reply) => reply.json())
      .then((answer) => { if (mine === latest && answer.ok) offer(answer.readings, answer.marked); })
      .catch(() => undefined);
  }

  input.addEventListener("input", request);
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
    refused: (offers) => { if (offers.length) offer(offers, false); },
    meant: () => (at >= 0 ? offered[at] : input.value.trim()),
  };
}

// --- keys and clicks -------------------------------------------------------------------

const keys = {
  " ": (row) => tools.play(row),
  Enter: confirmHeard,
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  "/": (row) => retype(row),
  Delete: (row) => (row.dataset.word === "void" ? null : tools.void(row)),
};

// A key that does something does it once each time it is pressed. Held, it does no more, whether or
// not the keyboard says that it repeats: else Enter would confirm entries that nobody has seen.
// Held arrows and Tab still go along: they change nothing.
const held = new Set();
const acting = /^(Enter|Delete| |[0-9]|[ura/?])$/;

document.addEventListener("keydown", (event) => {
  if (!part() || !acting.test(event.key) || event.ctrlKey || event.metaKey || event.altKey) return;
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

document.addEventListener("keydown", (event) => {
  if (!part() || event.ctrlKey || event.metaKey || event.altKey) return;
  const field = event.target.closest("input, select, textarea");
  if (event.key === "Escape") {
    closePanels();
    if (current()) { current().querySelector(".slot").replaceChildren(); choose(current()); }
    return;
  }
  if (field) return;
  const row = current();
  const inTools = event.target.closest("button, a") && !event.target.closest(".pick");
  if (row && keys[event.key] && !(inTools && (event.key === " " || event.key === "Enter"))) {
    event.preventDefault();
    keys[event.key](row);
  } else if (row && /^[1-9]$/.test(event.key)) {
    const button = row.querySelectorAll("[data-offer]")[Number(event.key) - 1];
    if (button) read(row, button.dataset.offer);
  } else if (event.key === "u") stepBack("undo");
  else if (event.key === "r") stepBack("redo");
  else if (event.key === "a") { event.preventDefault(); openPanel("add"); }
  else if (event.key === "?") openPanel("keys");
});

function answerRep(asked, words) {
  return act({ do: "answer", rep: asked.dataset.question, version: asked.dataset.version, words }, true);
}

function stepBack(which) {
  const id = part().dataset[which];
  if (id) act({ do: which, version: id }, true);
  else tell([`There is nothing to ${which}.`]);
}

function closePanels() {
  document.querySelectorAll(".panel").forEach((panel) => { panel.hidden = true; });
}

function openPanel(name) {
  const panel = document.getElementById(name);
  const open = panel.hidden;
  closePanels();
  panel.hidden = !open;
  if (!open) return;
  if (name === "add") {
    const form = panel.querySelector("form");
    if (!form.at.value && current()) form.at.value = current().dataset.end;
    if (!form.dataset.ready) {
      form.dataset.ready = "yes";
      form.complete = completer(form.words, form.querySelector(".choices"), null);
    }
    form.words.focus();
  } else panel.querySelector("select, input, button").focus();
}

document.addEventListener("click", (event) => {
  const on = (selector) => event.target.closest(selector);
  if (!part()) return;
  const row = on(".row");
  if (row && row !== current()) choose(row, Boolean(on(".pick")));
  if (on("[data-tool]")) tools[on("[data-tool]").dataset.tool](row);
  else if (on("[data-offer]")) read(row, on("[data-offer]").dataset.offer);
  else if (on("[data-answer]")) answerRep(on("[data-question]"), on("[data-answer]").dataset.answer);
  else if (on("[data-play]")) play(on("[data-play]").dataset.play, on("[data-play]").dataset.until);
  else if (on("[data-step]")) stepBack(on("[data-step]").dataset.step);
  else if (on("[data-open]")) openPanel(on("[data-open]").dataset.open);
  else if (on("[data-close]")) closePanels();
  const link = on(".plot a");
  if (link) {
    event.preventDefault();
    const found = document.getElementById(link.getAttribute("href").slice(1));
    if (found) { choose(found); tools.play(found); }
  }
});

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if ("add" in form.dataset) {
    event.preventDefault();
    const words = form.complete.meant();
    const [minutes, seconds] = form.at.value.split(":");
    const answer = await act({ do: "add", version: "", words, at_s: 60 * minutes + Number(seconds) }, true);
    if (answer && !answer.ok) form.complete.refused(answer.error.offers);
  } else if ("answering" in form.dataset) {
    event.preventDefault();
    answerRep(form.closest("[data-question]"), form.words.value);
  } else if ("dog" in form.dataset) {
    event.preventDefault();
    act({ do: "dog", version: form.dataset.was, dog: form.dog.value }, true);
  } else if ("clock" in form.dataset) {
    event.preventDefault();
    act({ do: "clock", version: form.dataset.was, moment: form.moment.value }, true);
  } else if ("profile" in form.dataset) {
    event.preventDefault();
    keepProfile(form);
  } else if ("matter" in form.dataset) {
    event.preventDefault();
    actOnMatter(form);
  }
});

// --- open matters ----------------------------------------------------------------------

async function actOnMatter(form) {
  const { matter, version } = form.dataset;
  const consulted = form.consulted ? form.consulted.value : "";
  const content = { do: form.dataset.do, id: matter, version, reason: form.reason.value, consulted };
  const answer = await ask("/api/matter", content);
  if (answer.ok) location.reload();
}

// --- a dog's profile -------------------------------------------------------------------

function profileOf(form) {
  const data = new FormData(form);
  const number = (name) => (data.get(name) ? Number(data.get(name)) : null);
  return {
    name: data.get("name").trim(),
    cues: data.get("cues").split(",").map((cue) => cue.trim()).filter(Boolean),
    transmitter: { top: number("top"), lowest: number("lowest") ?? 0, step: number("step"), cutoff_s: number("cutoff_s") },
    default_mode: data.get("default_mode"),
    ceiling: number("ceiling"),
    collar_number: number("collar_number"),
    born: data.get("born") || null,
    reached: data.getAll("reached"),
    heat_traits: data.getAll("heat_traits"),
    client: data.get("client"),
    identification: data.get("identification"),
  };
}

// Only what is other than it was goes out: what the form does not show, and what another field
// holds, is not this form's to write.
function changedIn(now, was) {
  const changed = {};
  for (const [name, value] of Object.entries(now)) {
    if (JSON.stringify(value) === JSON.stringify(was?.[name])) continue;
    const parts = value && typeof value === "object" && !Array.isArray(value);
    changed[name] = parts ? changedIn(value, was?.[name]) : value;
  }
  return changed;
}

let profileWas = null;

async function keepProfile(form) {
  const now = profileOf(form);
  const dog = { ...changedIn(now, form.dataset.was ? profileWas : null), name: now.name };
  const answer = await ask("/api/dog", { was: form.dataset.was, dog });
  if (!answer.ok) return;
  if (!form.dataset.was) {
    history.replaceState(null, "", `/dogs/${encodeURIComponent(answer.name)}`);
    document.querySelector("h1 bdi").textContent = answer.name;
    form.name.readOnly = true;
  }
  form.dataset.was = answer.was;
  profileWas = now;
  tell([`${answer.name} is on the roster.`, ...answer.alike]);
}

const profile = document.querySelector("[data-profile]");
if (profile) {
  profile.reset(); // a browser may have kept what was typed before a reload
  profileWas = profileOf(profile);
  const alike = document.getElementById("alike");
  const check = async () => {
    const { name, cues } = profileOf(profile);
    if (!name) return;
    const answer = await ask("/api/alike", { name, cues });
    if (answer.ok) alike.replaceChildren(...answer.alike.map((line) => make("span", {}, `${line} `)));
  };
  profile.name.addEventListener("change", check);
  profile.cues.addEventListener("change", check);
}

// --- the start -------------------------------------------------------------------------

if (part()) {
  const rep = /^#rep-(\d+)$/.exec(location.hash)?.[1];
  choose((rep && document.querySelector(`.row[data-reps~="${rep}"]`)) || firstToCheck());
}
