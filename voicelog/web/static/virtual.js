// A long list of which only what is near the window is in the page. Heights are as measured, and as
// guessed until then; what is looked at stays where it is when a guess above it was wrong.

const BEYOND = 700; // px above and below the window that are drawn too
const GUESS = 40; // px

export class VirtualList {
  constructor(list, draw) {
    this.list = list;
    this.draw = draw;
    this.names = [];
    this.heights = new Map();
    this.shown = new Map();
    this.every = false;
    const later = () => requestAnimationFrame(() => this.render());
    window.addEventListener("scroll", later, { passive: true });
    window.addEventListener("resize", () => { this.heights.clear(); later(); });
    window.addEventListener("beforeprint", () => { this.every = true; this.render(); });
    window.addEventListener("afterprint", () => { this.every = false; this.render(); });
  }

  set(names) {
    this.names = names;
    this.render();
  }

  // Draw these again, if they are in the page.
  again(names) {
    for (const name of names) {
      const old = this.shown.get(name);
      if (!old) continue;
      const made = this.draw(name);
      old.replaceWith(made);
      this.shown.set(name, made);
    }
    this.render();
  }

  element(name) { return this.shown.get(name) ?? null; }

  height(name) { return this.heights.get(name) ?? GUESS; }

  // Bring an item into the page and return it; the window is moved only if it was not drawn.
  bring(name) {
    if (!this.shown.has(name)) {
      let above = 0;
      for (const one of this.names) {
        if (one === name) break;
        above += this.height(one);
      }
      const top = this.list.getBoundingClientRect().top + window.scrollY;
      window.scrollTo(0, top + above - window.innerHeight / 3);
      this.render();
    }
    return this.element(name);
  }

  render() {
    const anchor = [...this.shown.values()].find((one) => one.isConnected && one.getBoundingClientRect().bottom > 0);
    const was = anchor?.getBoundingClientRect().top;
    for (let round = 0; round < 3 && this.place(); round += 1);
    if (anchor?.isConnected && was !== undefined && was < window.innerHeight) {
      const moved = anchor.getBoundingClientRect().top - was;
      if (Math.abs(moved) > 1) window.scrollBy(0, moved);
    }
  }

  place() {
    const box = this.list.getBoundingClientRect();
    const from = -box.top - BEYOND;
    const to = window.innerHeight - box.top + BEYOND;
    let at = 0;
    let above = 0;
    let below = 0;
    const wanted = [];
    for (const name of this.names) {
      const height = this.height(name);
      if (this.every || (at + height > from && at < to)) wanted.push(name);
      else if (wanted.length) below += height;
      else above += height;
      at += height;
    }
    const keep = new Set(wanted);
    for (const [name, one] of this.shown) {
      if (!keep.has(name)) { one.remove(); this.shown.delete(name); }
    }
    let before = null;
    for (const name of wanted) {
      let one = this.shown.get(name);
      if (!one) { one = this.draw(name); this.shown.set(name, one); }
      const next = before ? before.nextSibling : this.list.firstChild;
      if (next !== one) this.list.insertBefore(one, next);
      before = one;
    }
    while (before ? before.nextSibling : this.list.firstChild) (before ? before.nextSibling : this.list.firstChild).remove();
    this.list.style.paddingTop = `${above}px`;
    this.list.style.paddingBottom = `${below}px`;
    let wrong = false;
    for (const name of wanted) {
      const height = this.shown.get(name).getBoundingClientRect().height;
      if (height && Math.abs(height - this.height(name)) > 1) wrong = true;
      if (height) this.heights.set(name, height);
    }
    return wrong;
  }
}
