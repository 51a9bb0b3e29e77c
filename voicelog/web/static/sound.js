// One sound at a time, and a Stop that is seen for as long as it plays.

import { make, tell } from "./talk.js";

const player = make("audio", { id: "player", preload: "none" });
const stopper = make("button", { type: "button", id: "stop", hidden: true }, "Stop");
document.body.append(player, stopper);
let done = null;
let playing = null;

function over(whole) {
  const [told, stretch] = [done, playing?.stretch];
  done = null;
  playing = null;
  stopper.hidden = true;
  if (told) told(whole, stretch);
}

export function stop() {
  player.pause();
  over(false);
}

export const isPlaying = () => playing !== null;

// Where the sound is now, s in the recording; null while none plays.
export const playhead = () => (playing ? playing.from + player.currentTime : null);

// Plays a stretch of a recording; `ended` is told whether it was heard to its end,
// and which stretch was asked for.
export async function play(recording, from, to, ended = null) {
  stop();
  const start = Math.max(0, from);
  const end = Math.min(to, start + 60);
  const stretch = { from: start.toFixed(2), to: end.toFixed(2) };
  const source = `/sound/${encodeURIComponent(recording)}.wav?from=${stretch.from}&to=${stretch.to}`;
  playing = { from: start, source, stretch };
  done = ended;
  stopper.hidden = false;
  player.src = source;
  try {
    await player.play();
    return true;
  } catch (error) {
    if (playing?.source !== source) return false;
    over(false);
    if (error.name === "NotAllowedError") return false; // the browser waits for a key first
    if (error.name !== "AbortError") {
      const answer = await fetch(source, { headers: { accept: "application/json" } });
      const found = answer.ok ? null : await answer.json();
      tell([found ? found.error.message : "This browser could not play the clip."], { bad: true });
    }
    return false;
  }
}

player.addEventListener("ended", () => over(true));
stopper.addEventListener("click", stop);
