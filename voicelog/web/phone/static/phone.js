// The phone's page: joins, records, shows what is where.
"use strict";

import { Answers, putLine } from "./answers.js";
import { Capture, RATE } from "./capture.js";
import { Sender } from "./sender.js";
import { Store } from "./store.js";

const WORDS = JSON.parse(document.getElementById("words").textContent);
const part = (id) => document.getElementById(id);
const clock = (samples) => {
  const seconds = Math.floor(samples / RATE);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
};
const HOLD_MS = 1500;
const BLOCK = 8000; // samples, as the worklet makes them

let store;
let sender;
let capture = null;
let answers = null;
let wakeLock = null;
let sending = "";

function say(id, name) {
  const text = name ? WORDS[name] : "";
  if (part(id).textContent !== text) part(id).textContent = text;
}

function phase(name, word = name) {
  document.body.dataset.phase = name;
  say("state", word);
  say("night-state", name === "lost" ? word : "");
  const recording = name === "recording" || name === "lost";
  part("start").hidden = recording;
  part("start").disabled = !(name === "ready");
  part("stop").hidden = part("dark").hidden = !recording;
  if (!recording) part("night").hidden = true;
}

function shown() {
  const kept = store.blocks * BLOCK;
  document.body.dataset.kept = String(kept);
  document.body.dataset.sending = sending;
  part("kept").textContent = kept ? `${clock(kept)} ${WORDS["kept-here"]}` : "";
  const unreachable = sending === "out-of-reach";
  const full = unreachable ? "phone-full-alone" : "phone-full";
  say("said", store.full ? full : sending);
}

async function keepAwake() {
  if (!capture || wakeLock || document.visibilityState !== "visible") return;
  try {
    wakeLock = await navigator.wakeLock.request("screen");
    wakeLock.onrelease = () => (wakeLock = null);
  } catch {
    say("said", "no-wake-lock");
  }
}

async function begin() {
  phase("starting");
  const made = new Capture(store, (what, value) => heard(made, what, value));
  try {
    await made.begin();
  } catch (error) {
    phase("ready", error.message === "no-rate" ? "no-rate" : "refused");
    return false;
  }
  capture = made;
  answers = new Answers(
    made,
    (...given) => sender.post(...given),
    () => !store.recordings.has(made.id),
    shownAnswer(made),
    (is) => {
      if (made === capture) say("answering", { true: "answering", false: "not-answering" }[is]);
    },
  );
  answers.run();
  part("time").textContent = clock(0);
  phase("recording");
  keepAwake();
  return true;
}

// What the laptop said, with the time of day that it is about.
function shownAnswer(made) {
  return (words, late, at) => {
    const about = new Date(Date.parse(made.startedAt) + (at / RATE) * 1000);
    const time = about.toTimeString().slice(0, 8);
    part("answers-part").hidden = false;
    putLine(part("answers"), `${time}${late ? ` (${WORDS["late"]})` : ""}: ${words}`, late);
  };
}

function endAnswers() {
  answers?.end();
  answers = null;
  say("answering", "");
}

// What the capture tells. One that is not the present one has nothing more to say.
function heard(from, what, value) {
  if (from !== capture) return;
  if (what === "level") {
    part("level").value = value;
    part("time").textContent = clock(from.samples);
    sender.nudge();
    shown();
  } else if (what === "silent") {
    phase("lost", "silent");
    navigator.vibrate?.([400, 200, 400]);
  } else if (what === "sounding") {
    phase("recording", "back");
  } else if (what === "lost" || what === "stopped") {
    navigator.vibrate?.([400, 200, 400]);
    again(what === "lost");
  }
}

// End the recording where the sound stopped, and begin another as soon as there is sound.
async function again(lost) {
  const old = capture;
  capture = null;
  endAnswers();
  phase("lost", "lost");
  await old.end();
  for (let tries = 0; !(await begin()); tries += 1) {
    phase("lost", "lost");
    await new Promise((resolve) => setTimeout(resolve, 2000));
    if (document.body.dataset.wanted === "no") return phase("ready");
  }
  if (lost) say("state", "back");
}

async function stop() {
  document.body.dataset.wanted = "no";
  const old = capture;
  if (!old) return;
  capture = null;
  endAnswers();
  phase("stopping");
  await old.end();
  wakeLock?.release();
  phase("ready");
  sender.nudge();
  shown();
}

// Only a long press counts, of a finger or a key: a pocket presses short. What reads the screen
// aloud cannot hold; its click counts, which no touch brings about. The keys go on to `next`.
function held(element, done, next) {
  let timer = null;
  const off = () => clearTimeout(timer);
  element.addEventListener("pointerdown", (event) => {
    element.setPointerCapture(event.pointerId); // what moves under the finger ends nothing
    off();
    timer = setTimeout(done, HOLD_MS);
  });
  element.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault(); // no click follows
    if (event.repeat) return;
    off();
    timer = setTimeout(() => {
      const finished = done();
      const goOn = async () => {
        await finished;
        next.focus();
      };
      document.addEventListener("keyup", goOn, { once: true }); // not while the key repeats
    }, HOLD_MS);
  });
  element.addEventListener("click", async (event) => {
    if (event.detail !== 0) return;
    await done();
    next.focus();
  });
  for (const name of ["pointerup", "pointercancel", "keyup", "blur"]) {
    element.addEventListener(name, off);
  }
  element.addEventListener("contextmenu", (event) => event.preventDefault());
}

async function join() {
  const code = new URLSearchParams(location.hash.slice(1)).get("c");
  if (!code) return sender.joined ? null : WORDS["not-joined"];
  history.replaceState(null, "", "/");
  try {
    const answer = await sender.join(code);
    return answer.ok ? null : answer.message;
  } catch {
    return WORDS["out-of-reach"];
  }
}

async function open() {
  if (!window.isSecureContext) return phase("closed", "not-trusted");
  navigator.serviceWorker?.register("/offline.js", { type: "classic" }).catch(() => {});
  store = await Store.open();
  const cut = await store.load();
  sender = new Sender(store, (state) => {
    sending = state;
    answers?.reached(state !== "out-of-reach");
    shown();
  });
  sender.recorded = (id) => (id === capture?.id ? capture.soFar : null);
  const wrong = await join();
  sender.run();
  phase("ready", cut ? "stopped-before" : "ready");
  if (wrong) part("state").textContent = wrong;
  part("start").disabled = !sender.joined;
  shown();
  part("start").addEventListener("click", () => {
    document.body.dataset.wanted = "yes";
    begin();
  });
  part("dark").addEventListener("click", () => {
    part("night").hidden = false;
    part("night").focus();
  });
  held(part("night"), () => (part("night").hidden = true), part("dark"));
  held(part("stop"), stop, part("start"));
  document.addEventListener("visibilitychange", keepAwake);
}

// Two pages of one phone would end each other's recordings.
if (navigator.locks) {
  navigator.locks.request("voicelog-phone", { ifAvailable: true }, (lock) => {
    if (!lock) return phase("closed", "other-page");
    open();
    return new Promise(() => {}); // as long as the page is there
  });
} else open();
