// What is kept is sent, block by block and in order, whenever the laptop can be reached. A block is
// removed here when the laptop has said that it is on its disk.
"use strict";

import { localTime } from "./capture.js";

const sleep = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const PASS = "voicelog-pass";

export class Sender {
  constructor(store, told) {
    this.store = store;
    this.told = told; // (state) -> shown
    this.wakeUp = () => {};
    this.recorded = () => null; // (recording's id) -> samples so far, of the one that goes on
  }

  get joined() {
    return localStorage.getItem(PASS) !== null;
  }

  // Bring the code; the answer of the laptop.
  async join(code) {
    const answer = await this.post("/api/join", JSON.stringify({ code, device: deviceName() }));
    if (answer.ok) localStorage.setItem(PASS, answer.pass);
    return answer;
  }

  nudge() {
    this.wakeUp();
  }

  async run() {
    for (;;) {
      let wait = 0;
      try {
        wait = await this.step();
      } catch {
        this.told("out-of-reach");
        wait = 2000;
      }
      if (wait) await Promise.race([sleep(wait), new Promise((go) => (this.wakeUp = go))]);
    }
  }

  // One block, or one end; how long to wait then, ms.
  async step() {
    const next = await this.store.next();
    if (!next) {
      this.told("all-sent");
      return 1000;
    }
    if (!this.joined) {
      this.told("not-joined");
      return 2000;
    }
    const { recording, block } = next;
    const answer = block
      ? await this.send(recording, block)
      : await this.post(
          `/api/sound/${recording.id}/end`,
          JSON.stringify({ samples: recording.samples ?? null }),
        );
    if (answer.ok || (answer.code === "gap" && block && answer.have > block.start)) {
      if (block) await this.store.remove(block);
      else await this.store.forget(recording.id);
      this.told("sending");
      return 0;
    }
    const states = { "not-joined": "not-joined", "no-room": "laptop-full" };
    this.told(states[answer.code] || "not-taken");
    return 5000;
  }

  async send(recording, block) {
    const recorded = this.recorded(recording.id);
    return this.post(`/api/sound/${recording.id}/${block.start}`, block.pcm, {
      ...(recorded === null ? {} : { "x-recorded": String(recorded) }),
      "content-type": "application/octet-stream",
      "x-sha256": block.sha256,
      "x-started-at": recording.startedAt,
      "x-sent-at": localTime(),
    });
  }

  async post(address, body, headers = {}) {
    const pass = localStorage.getItem(PASS);
    const answer = await fetch(address, {
      method: "POST",
      body,
      headers: { ...headers, ...(pass ? { authorization: `Bearer ${pass}` } : {}) },
      signal: AbortSignal.timeout(10000),
    });
    return answer.json();
  }
}

function deviceName() {
  const kind = /iPhone|iPad|Android/.exec(navigator.userAgent);
  return kind ? kind[0] : "phone";
}
