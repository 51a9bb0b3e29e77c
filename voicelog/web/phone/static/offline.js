// The page itself, kept on the phone, so that it opens where the laptop is out of reach.
"use strict";

const KEPT = "voicelog-phone";
const PARTS = ["/", "/phone.css", "/phone.js", "/store.js", "/sender.js", "/capture.js", "/answers.js", "/worklet.js"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(PARTS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { pathname } = new URL(event.request.url);
  if (event.request.method !== "GET" || !PARTS.includes(pathname)) return;
  event.respondWith(newest(pathname));
});

// What the laptop has, so that an update is seen; where it does not answer, what is kept.
async function newest(pathname) {
  const kept = await caches.open(KEPT);
  try {
    const answer = await fetch(pathname, { cache: "no-store", signal: AbortSignal.timeout(2000) });
    if (!answer.ok) throw new Error(pathname);
    await kept.put(pathname, answer.clone());
    return answer;
  } catch {
    return kept.match(pathname);
  }
}
