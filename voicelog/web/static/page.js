// What every page has, and the modules of those that have more.
"use strict";

import { letLettersAct, lettersAct } from "./once.js";
import { ask } from "./talk.js";
import "./matters.js";
import "./roster.js";
import "./jobs.js";
import "./plots.js";

const prefs = document.querySelector("[data-prefs]");
if (prefs) prefs.elements.letters.checked = lettersAct();
prefs?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = new FormData(event.target);
  letLettersAct(form.has("letters"));
  const answer = await ask("/api/prefs", { who: form.get("who"), budget: Number(form.get("budget")) });
  if (answer.ok) location.reload();
});

if (document.getElementById("session")) import("./session.js");
if (document.getElementById("live")) import("./live.js");
if (document.getElementById("watch")) import("./watch.js");
if (document.getElementById("phone")) import("./phone.js");
if (document.getElementById("work")) import("./work.js");
if (document.getElementById("incoming")) import("./incoming.js");
if (document.getElementById("evening")) import("./evening.js");
