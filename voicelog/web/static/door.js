// While the lock is being changed: how far that is, until the page of the log is there again.

const far = document.querySelector("#far");

async function look() {
  try {
    const answer = await fetch("/api/door", { headers: { accept: "application/json" } });
    const { words } = answer.ok ? await answer.json() : { words: "" };
    if (!words) return location.replace("/lock");
    if (far.textContent !== words) far.textContent = words;
  } catch {
    // between two servers: asked again
  }
  setTimeout(look, 1000);
}

setTimeout(look, 1000);
