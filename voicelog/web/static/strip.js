// The timeline of a recording: loudness, and below it a lane each for talk, entries, reps, findings
// and conditions. All that is drawn is in the page as lists too.

import { placeLabels } from "./labels.js";
import { clock, make } from "./talk.js";
import { isPlaying, play, playhead, stop } from "./sound.js";
import { VirtualList } from "./virtual.js";

const STEP_S = 0.1;
const SOUND = 76; // px; the lanes follow
const LANES = { talk: [80, 12], entries: [96, 18], reps: [120, 44], findings: [170, 16], conditions: [190, 46] };
const CONDITION_ROWS = 3;
const NOTCH = 6; // px at the top of the lane, where every condition has its mark
const ROW = 13;
const HEIGHT = 238;
const LEAST_S = 4;
const DRAG_PX = 6;

const strips = new Map();

// The loudness of a recording, asked for once.
export async function loudness(recording, more) {
  for (;;) {
    if (strips.get(recording)?.whole) return;
    const reply = await fetch(`/api/strip/${encodeURIComponent(recording)}`);
    if (!reply.ok) return;
    const levels = new Uint8Array(await reply.arrayBuffer());
    strips.set(recording, { levels, whole: reply.headers.get("x-whole") === "1" });
    more();
    if (!strips.get(recording).whole) await new Promise((wake) => setTimeout(wake, 700));
  }
}

export function inks() {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(["ink", "soft", "rule", "wash", "lift", "moss", "stop", "caution", "paper"]
    .map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}

// Loudness of a stretch, voices dark on what is low and pale.
export function drawSound(pen, recording, view, width, height, ink) {
  pen.fillStyle = ink.wash;
  pen.fillRect(0, 0, width, height);
  const levels = strips.get(recording)?.levels;
  if (!levels) return;
  const per = (view.to - view.from) / width;
  for (const [band, colour] of [[1, ink.rule], [0, ink.moss]]) {
    pen.fillStyle = colour;
    for (let x = 0; x < width; x += 1) {
      const first = Math.max(0, Math.floor((view.from + x * per) / STEP_S));
      const last = Math.max(first + 1, Math.floor((view.from + (x + 1) * per) / STEP_S));
      let most = 0;
      for (let at = first; at < last; at += 1) most = Math.max(most, levels[2 * at + band] ?? 0);
      const tall = (most / 255) ** 1.5 * height;
      if (tall > 0.5) pen.fillRect(x, (height - tall) / 2, 1, tall);
    }
  }
}

export function pencil(canvas, width, height) {
  const scale = window.devicePixelRatio || 1;
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  canvas.style.width = `${width}px`;
  canvas.style.height = `${height}px`;
  const pen = canvas.getContext("2d");
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  return pen;
}

function outcome(pen, shape, x, y) {
  const r = 5;
  pen.lineWidth = 1.5;
  pen.beginPath();
  if (shape === "helped") pen.rect(x - r + 1, y - r + 1, 2 * r - 2, 2 * r - 2);
  else if (shape === "left") { pen.moveTo(x - r, y + r); pen.lineTo(x + r, y - r); }
  else if (shape === "broke") { pen.moveTo(x - r, y - r); pen.lineTo(x + r, y + r); pen.moveTo(x - r, y + r); pen.lineTo(x + r, y - r); }
  else if (shape === "unsaid") { pen.moveTo(x - r, y); pen.lineTo(x + r, y); }
  else pen.arc(x, y, r, 0, 7);
  pen.stroke();
  if (shape === "complied" || shape === "noticed" || shape === "helped") pen.fill();
  if (shape === "part") { pen.beginPath(); pen.arc(x, y, r, Math.PI / 2, 1.5 * Math.PI); pen.fill(); }
}

export class Strip {
  constructor(box, { recording, length, sound, state, current, chosen, add }) {
    Object.assign(this, { box, recording, sound, state, current, chosen, add });
    const last = state.rows.order.at(-1);
    this.length = Math.max(length, last ? state.row(last).to + 1 : 0, 1);
    this.view = { from: 0, to: this.length };
    this.cursor = 0;
    this.stretch = null;
    this.marking = false;
    this.field = box.querySelector(".field");
    this.canvas = box.querySelector("canvas");
    this.field.setAttribute("aria-valuemax", this.length.toFixed(0));
    this.pointers = new Map();
    this.listen();
    if (sound) loudness(recording, () => this.draw());
    this.moments();
    this.draw();
  }

  get width() { return Math.max(120, this.field.clientWidth); }
  x(at) { return ((at - this.view.from) / (this.view.to - this.view.from)) * this.width; }
  at(x) { return this.view.from + (x / this.width) * (this.view.to - this.view.from); }

  look(from, to) {
    const wide = Math.min(this.length, Math.max(LEAST_S, to - from));
    const start = Math.min(Math.max(0, from), this.length - wide);
    this.view = { from: start, to: start + wide };
    this.draw();
  }

  zoom(by, around = null) {
    const middle = around ?? Math.min(this.view.to, Math.max(this.view.from, this.cursor));
    this.look(middle - (middle - this.view.from) * by, middle + (this.view.to - middle) * by);
  }

  put(at, told = true) {
    this.cursor = Math.min(this.length, Math.max(0, at));
    if (this.cursor < this.view.from || this.cursor > this.view.to) {
      const half = (this.view.to - this.view.from) / 2;
      this.look(this.cursor - half, this.cursor + half);
    }
    if (told) this.draw();
  }

  // --- drawing -------------------------------------------------------------------------

  draw() {
    if (this.wanted) return;
    this.wanted = requestAnimationFrame(() => { this.wanted = 0; this.paint(); });
  }

  paint() {
    const { width, view } = this;
    const ink = inks();
    const pen = pencil(this.canvas, width, HEIGHT);
    pen.font = "11px system-ui, sans-serif";
    pen.textBaseline = "middle";
    drawSound(pen, this.recording, view, width, SOUND, ink);
    for (const [y, tall] of Object.values(LANES)) {
      pen.fillStyle = ink.wash;
      pen.fillRect(0, y, width, tall);
    }
    const seen = (one, to = one.at) => to >= view.from && (one.from ?? one.at) <= view.to;
    for (const name of this.state.rows.order) {
      const row = this.state.row(name);
      if (seen(row, row.to)) this.entry(pen, ink, row);
    }
    let ended = -1e9;
    for (const name of this.state.reps.order) {
      const rep = this.state.reps.of.get(name);
      if (seen(rep, rep.to)) ended = this.rep(pen, ink, rep, ended);
    }
    for (const name of this.state.findings.order) {
      const one = this.state.findings.of.get(name);
      if (seen(one)) this.finding(pen, ink, one);
    }
    this.conditions(pen, ink, this.state.conditions.filter((one) => seen(one)));
    if (this.stretch) {
      pen.globalAlpha = 0.3;
      pen.fillStyle = ink.caution;
      pen.fillRect(this.x(this.stretch.from), 0, this.x(this.stretch.to) - this.x(this.stretch.from), SOUND);
      pen.globalAlpha = 1;
    }
    const head = playhead();
    pen.fillStyle = head === null ? ink.ink : ink.stop;
    pen.fillRect(this.x(head ?? this.cursor) - 1, 0, 2, HEIGHT);
    pen.fillStyle = ink.soft;
    pen.fillText(clock(view.from), 3, 8);
    const end = clock(view.to);
    pen.fillText(end, width - pen.measureText(end).width - 3, 8);
    this.tell();
    if (head !== null) this.draw();
  }

  entry(pen, ink, row) {
    const x = this.x(row.from);
    const wide = Math.max(2, this.x(row.to) - x);
    const [y, tall] = row.word === "not understood" ? LANES.talk : LANES.entries;
    const now = row.id === this.current();
    if (row.word === "not understood") {
      pen.fillStyle = ink.soft;
      pen.fillRect(x, y + 4, wide, tall - 8);
    } else if (row.word === "sure") {
      pen.fillStyle = ink.moss;
      pen.fillRect(x, y + 3, wide, tall - 6);
    } else {
      pen.strokeStyle = row.word === "check" ? ink.caution : ink.soft;
      pen.lineWidth = row.word === "check" ? 2 : 1;
      pen.strokeRect(x + 1, y + 2, Math.max(3, wide - 2), tall - 4);
      if (row.word === "check" && wide > 9) {
        pen.fillStyle = ink.caution;
        pen.fillText("?", x + wide / 2 - 3, y + tall / 2);
      } else if (row.word === "void") {
        pen.beginPath(); pen.moveTo(x, y + tall - 3); pen.lineTo(x + wide, y + 3); pen.stroke();
      }
    }
    if (now) {
      pen.strokeStyle = ink.ink;
      pen.lineWidth = 2;
      pen.strokeRect(x - 2, y - 1, wide + 4, tall + 2);
    }
  }

  rep(pen, ink, rep, ended) {
    const x = this.x(rep.from);
    const wide = Math.max(2, this.x(rep.to) - x);
    const [y, tall] = LANES.reps;
    pen.strokeStyle = rep.stress ? ink.stop : rep.word === "check" ? ink.caution : ink.ink;
    pen.fillStyle = pen.strokeStyle;
    pen.globalAlpha = rep.word === "void" ? 0.4 : 1;
    pen.fillRect(x, y + tall - 8, wide, rep.word === "sure" ? 4 : 2);
    let after = ended;
    if (x > ended) {
      const levels = rep.levels.length ? rep.levels.join(" ") : "";
      const text = `${levels}${rep.stress ? " !" : ""}${rep.word === "check" ? " ?" : ""}`.trim();
      outcome(pen, rep.shape, x + 6, y + 24);
      if (text) pen.fillText(text, x + 1, y + 8);
      after = x + Math.max(15, pen.measureText(text).width + 5);
    }
    pen.globalAlpha = 1;
    return after;
  }

  finding(pen, ink, one) {
    const x = this.x(one.at);
    const [y, tall] = LANES.findings;
    const colour = { stop: ink.stop, caution: ink.caution, remark: ink.soft }[one.severity];
    pen.fillStyle = colour;
    pen.strokeStyle = colour;
    pen.lineWidth = 1.5;
    pen.beginPath();
    if (one.severity === "stop") pen.rect(x - 5, y + 3, 10, 10);
    else { pen.moveTo(x, y + 3); pen.lineTo(x + 6, y + 13); pen.lineTo(x - 6, y + 13); pen.closePath(); }
    if (one.state === "sure") pen.fill();
    else pen.stroke();
  }

  // Each has its mark; its name where there is room for it: the rest are read when zoomed in.
  conditions(pen, ink, held) {
    const y = LANES.conditions[0];
    const marks = held.map((one) => ({ x: this.x(one.at), wide: pen.measureText(one.text).width }));
    pen.fillStyle = ink.soft;
    placeLabels(marks, this.width, CONDITION_ROWS).forEach((place, index) => {
      const { x } = marks[index];
      pen.fillRect(x, y, 1.5, place ? NOTCH + ROW * (place.row + 1) : NOTCH - 2);
      if (place) pen.fillText(held[index].text, place.from, y + NOTCH + ROW * (place.row + 0.5));
    });
  }

  tell() {
    const near = this.nearest(this.cursor);
    const what = near && this.cursor >= near.from - 0.7 && this.cursor <= near.to + 0.7 ? `, ${near.word}: ${near.said}` : "";
    this.field.setAttribute("aria-valuenow", this.cursor.toFixed(0));
    this.field.setAttribute("aria-valuetext", `${clock(this.cursor)}${what}`);
    this.box.querySelector(".shown").textContent = `${clock(this.view.from)} to ${clock(this.view.to)}`;
    const marked = this.box.querySelector(".stretch");
    marked.hidden = !this.stretch;
    if (this.stretch) marked.querySelector("b").textContent = `${clock(this.stretch.from)} to ${clock(this.stretch.to)}, ${(this.stretch.to - this.stretch.from).toFixed(1)} s`;
    this.box.querySelector('[data-strip="mark"]').setAttribute("aria-pressed", String(this.marking));
  }

  nearest(at) {
    let best = null;
    for (const name of this.state.rows.order) {
      const row = this.state.row(name);
      const far = Math.max(row.from - at, at - row.to, 0);
      if (!best || far < best.far) best = { far, row };
      if (row.from > at + 60) break;
    }
    return best?.row ?? null;
  }

  // --- hands ---------------------------------------------------------------------------

  hear(from, to = from + 60) {
    this.put(from);
    if (this.sound) play(this.recording, from, Math.min(to, this.length), () => this.draw()).then(() => this.draw());
  }

  do(what) {
    if (what === "in") this.zoom(0.5);
    else if (what === "out") this.zoom(2);
    else if (what === "whole") this.look(0, this.length);
    else if (what === "mark") this.mark();
    else if (what === "play") this.hear(this.stretch.from, this.stretch.to);
    else if (what === "add") this.add(this.stretch);
    else if (what === "clear") this.stretch = null;
    this.draw();
  }

  // By keys a stretch is marked from the cursor to where it is when m is pressed again.
  mark() {
    if (this.marking && this.since !== null && this.since !== this.cursor) {
      this.stretch = { from: Math.min(this.since, this.cursor), to: Math.max(this.since, this.cursor) };
      this.marking = false;
    } else {
      this.marking = !this.marking;
      this.since = this.cursor;
      this.begun = false;
    }
  }

  listen() {
    const place = (event) => {
      const box = this.canvas.getBoundingClientRect();
      return { x: event.clientX - box.left, y: event.clientY - box.top };
    };
    this.field.addEventListener("pointerdown", (event) => {
      this.pointers.set(event.pointerId, place(event));
      this.field.setPointerCapture(event.pointerId);
      const { x, y } = place(event);
      this.drag = { x, y, was: { ...this.view }, at: this.at(x), moved: false, sound: y <= SOUND || this.marking };
    });
    this.field.addEventListener("pointermove", (event) => {
      if (!this.pointers.has(event.pointerId) || !this.drag) return;
      const others = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, one]) => one);
      const before = this.pointers.get(event.pointerId);
      const now = place(event);
      this.pointers.set(event.pointerId, now);
      if (others.length) {
        const apart = Math.abs(before.x - others[0].x);
        const next = Math.abs(now.x - others[0].x);
        if (apart > 8 && next > 8) this.zoom(apart / next, this.at((now.x + others[0].x) / 2));
        this.drag.moved = true;
        this.drag.sound = false;
        return;
      }
      if (!this.drag.moved && Math.abs(now.x - this.drag.x) < DRAG_PX) return;
      this.drag.moved = true;
      if (this.drag.sound) {
        const at = Math.min(this.length, Math.max(0, this.at(now.x)));
        this.stretch = { from: Math.min(this.drag.at, at), to: Math.max(this.drag.at, at) };
        this.draw();
      } else {
        const by = ((this.drag.x - now.x) / this.width) * (this.drag.was.to - this.drag.was.from);
        this.look(this.drag.was.from + by, this.drag.was.to + by);
      }
    });
    const up = (event) => {
      const last = this.pointers.delete(event.pointerId) && this.pointers.size === 0;
      if (!last || !this.drag) return;
      const { moved, x, y } = this.drag;
      if (moved) this.marking = this.marking && !this.drag.sound;
      else if (event.type === "pointerup") this.click(this.at(x), y);
      this.drag = null;
      this.draw();
    };
    this.field.addEventListener("pointerup", up);
    this.field.addEventListener("pointercancel", up);
    this.field.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && Math.abs(event.deltaX) <= Math.abs(event.deltaY)) return;
      event.preventDefault();
      if (event.ctrlKey) this.zoom(event.deltaY > 0 ? 1.25 : 0.8, this.at(place(event).x));
      else {
        const by = (event.deltaX / this.width) * (this.view.to - this.view.from);
        this.look(this.view.from + by, this.view.to + by);
      }
    }, { passive: false });
    this.field.addEventListener("keydown", (event) => {
      const far = event.shiftKey ? 10 : Math.max(0.5, (this.view.to - this.view.from) / 60);
      const keys = {
        ArrowLeft: () => this.put(this.cursor - far), ArrowRight: () => this.put(this.cursor + far),
        Home: () => this.put(0), End: () => this.put(this.length),
        "+": () => this.do("in"), "-": () => this.do("out"), m: () => this.do("mark"),
        " ": () => (isPlaying() ? stop() : this.hear(this.cursor)), Enter: () => this.click(this.cursor, LANES.entries[0]),
      };
      if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      event.stopPropagation();
      keys[event.key]();
    });
    this.box.addEventListener("click", (event) => {
      const what = event.target.closest("[data-strip]")?.dataset.strip;
      if (what) this.do(what);
    });
    window.addEventListener("resize", () => this.draw());
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  // While a stretch is marked, one press sets its beginning and the next its end.
  click(at, y) {
    if (this.marking) {
      this.put(at);
      if (this.begun) this.mark();
      else [this.since, this.begun] = [at, true];
      return;
    }
    if (y > LANES.talk[0] - 2) {
      const row = this.nearest(at);
      const slack = ((this.view.to - this.view.from) / this.width) * 12;
      if (row && at > row.from - slack && at < row.to + slack) {
        this.put(row.from);
        this.chosen(row.id);
        this.hear(Math.max(0, row.from - 0.7), row.to + 0.7);
        return;
      }
    }
    this.hear(at);
  }

  // --- the same as a list --------------------------------------------------------------

  moments() {
    const fold = this.box.querySelector("details");
    const list = new VirtualList(fold.querySelector(".moments"), (name) => this.moment(name));
    this.relist = () => {
      if (!fold.open) return;
      const { reps, findings, conditions, numbers } = this.state;
      const all = [
        ...reps.order.map((name) => [reps.of.get(name).from, `rep ${numbers.get(name)}`, reps.of.get(name).cells.join(", "), reps.of.get(name).to]),
        ...findings.order.map((name) => findings.of.get(name)).map((one) => [one.at, one.severity, `${one.rule.replaceAll("-", " ")}, ${one.state}`, one.at + 3]),
        ...conditions.map((one) => [one.at, "from here", one.text, one.at + 3]),
      ].sort((a, b) => a[0] - b[0]);
      this.told = new Map(all.map((one, place) => [String(place), one]));
      list.set([...this.told.keys()]);
      list.again([...this.told.keys()]);
    };
    fold.addEventListener("toggle", this.relist);
  }

  moment(name) {
    const [at, kind, text, to] = this.told.get(name);
    const button = make("button", { type: "button" }, "Play");
    button.addEventListener("click", () => this.hear(Math.max(0, at - 0.7), to + 0.7));
    return make("li", { class: "moment", "aria-posinset": String(Number(name) + 1), "aria-setsize": String(this.told.size) },
      make("span", { class: "at" }, clock(at)), " ", make("b", {}, kind), " ", make("bdi", {}, text), " ", this.sound ? button : "");
  }

  // Rows or reps are other than they were, or another one is current.
  refresh(row = null) {
    if (row && (row.to < this.view.from || row.from > this.view.to)) {
      const half = (this.view.to - this.view.from) / 2;
      this.look(row.from - half, row.from + half);
    }
    if (row && playhead() === null) this.cursor = row.from;
    if (!row) this.relist();
    this.draw();
  }
}
