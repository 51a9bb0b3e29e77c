// A dog's profile.

import { ask, make, tell } from "./talk.js";

document.addEventListener("submit", (event) => {
  if (!("profile" in event.target.dataset)) return;
  event.preventDefault();
  keepProfile(event.target);
});

function profileOf(form) {
  const data = new FormData(form);
  const number = (name) => (data.get(name) ? Number(data.get(name)) : null);
  return {
    name: data.get("name").trim(),
    cues: data.get("cues").split(",").map((cue) => cue.trim()).filter(Boolean),
    cue_meanings: data.get("cue_meanings").split(";").filter((one) => one.trim()).map((one) => {
      const [cue, ...meaning] = one.split("=");
      return { cue: cue.trim(), meaning: meaning.join("=").trim() };
    }),
    transmitter: { top: number("top"), lowest: number("lowest") ?? 0, step: number("step"), cutoff_s: number("cutoff_s") },
    default_mode: data.get("default_mode"),
    ceiling: number("ceiling"),
    collar_number: number("collar_number"),
    born: data.get("born") || null,
    reached: data.getAll("reached"),
    heat_traits: data.getAll("heat_traits"),
    client: data.get("client"),
    identification: data.get("identification"),
    litter: data.get("litter"),
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
