// Asking the program, and saying what came of it. No text is ever put into the page as HTML but
// what the server has rendered.

const token = document.querySelector('meta[name="voicelog-token"]').content;
const said = document.getElementById("said");

export function make(tag, attributes = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null) made.setAttribute(name, value);
  }
  made.append(...inside.filter((one) => one !== "" && one !== null));
  return made;
}

export function tell(lines, { bad = false, counts = [] } = {}) {
  const shown = lines.slice(0, 4).map((line) => make("p", {}, line));
  if (lines.length > 4) {
    const rest = lines.slice(4).map((line) => make("p", {}, line));
    shown.push(make("details", {}, make("summary", {}, `${rest.length} more`), ...rest));
  }
  const numbers = make("p", { class: "counts3" }, ...counts.map((one) => make("b", {}, one)));
  said.className = bad ? "bad" : "";
  const hide = make("button", { type: "button", class: "hide" }, "Hide");
  hide.addEventListener("click", () => said.replaceChildren());
  said.replaceChildren(hide, ...(counts.length ? [numbers] : []), ...shown);
  const at = document.activeElement;
  const covered = at && !said.contains(at) && at !== document.body
    && at.getBoundingClientRect().bottom > said.getBoundingClientRect().top;
  if (covered) at.scrollIntoView({ block: "nearest" });
}

export const hush = () => said.replaceChildren();

export async function ask(address, content) {
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
  if (!answer.ok) tell([answer.error.message], { bad: true });
  return answer;
}

export function busy(now) {
  document.documentElement.toggleAttribute("data-busy", now);
}

export const clock = (seconds) => {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};
