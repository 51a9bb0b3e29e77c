// What is kept on the phone until the laptop has it: recordings and their blocks, in IndexedDB.
// A block that the phone has no room for waits in memory, in its place.
"use strict";

const done = (asked) =>
  new Promise((resolve, reject) => {
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });

export class Store {
  static async open() {
    const asked = indexedDB.open("voicelog-phone", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("recordings", { keyPath: "id" });
      asked.result.createObjectStore("blocks", { keyPath: ["recording", "start"] });
    };
    navigator.storage?.persist?.().catch(() => false);
    return new Store(await done(asked));
  }

  constructor(database) {
    this.database = database;
    this.recordings = new Map(); // those of this page, and those found when it was opened
    this.memory = []; // blocks that the phone had no room for, in order
    this.blocks = 0; // how many are in the database or in memory
  }

  get full() {
    return this.memory.length > 0;
  }

  // All that earlier pages left; whatever they did not end, ends where it is.
  async load() {
    const tx = this.database.transaction(["recordings", "blocks"], "readonly");
    const recordings = done(tx.objectStore("recordings").getAll());
    const blocks = done(tx.objectStore("blocks").count());
    let cut = 0;
    for (const recording of await recordings) {
      if (!recording.over) cut += 1;
      this.recordings.set(recording.id, { ...recording, over: true, cut: !recording.over });
    }
    this.blocks = await blocks;
    return cut;
  }

  async begin(recording) {
    this.recordings.set(recording.id, recording);
    await this.write("recordings", recording).catch(() => {});
  }

  async add(block) {
    this.blocks += 1;
    if (this.memory.length) {
      this.memory.push(block);
      await this.unload();
      return;
    }
    try {
      await this.write("blocks", block);
    } catch {
      this.memory.push(block);
    }
  }

  // Put into the database what waits in memory, as far as it goes.
  async unload() {
    if (this.unloading) return;
    this.unloading = true;
    try {
      while (this.memory.length) {
        const block = this.memory[0];
        await this.write("blocks", block);
        if (this.memory[0] === block) this.memory.shift();
      }
    } catch {
      return;
    } finally {
      this.unloading = false;
    }
  }

  async end(id, samples) {
    const recording = { ...this.recordings.get(id), over: true, samples };
    this.recordings.set(id, recording);
    await this.write("recordings", recording).catch(() => {});
  }

  // The oldest recording and its first block that the laptop does not have; null: nothing to send.
  async next() {
    const all = [...this.recordings.values()].sort((a, b) => (a.startedAt < b.startedAt ? -1 : 1));
    for (const recording of all) {
      const range = IDBKeyRange.bound([recording.id, 0], [recording.id, Infinity]);
      const tx = this.database.transaction(["blocks"], "readonly");
      const cursor = await done(tx.objectStore("blocks").openCursor(range));
      const waiting = this.memory.find((block) => block.recording === recording.id);
      const stored = cursor?.value;
      const block = !stored || (waiting && waiting.start < stored.start) ? waiting : stored;
      if (block || recording.over) return { recording, block: block || null };
    }
    return null;
  }

  // The laptop has this block on its disk.
  async remove(block) {
    this.blocks -= 1;
    const at = this.memory.findIndex(
      (one) => one.recording === block.recording && one.start === block.start,
    );
    if (at >= 0) this.memory.splice(at, 1);
    const tx = this.database.transaction(["blocks"], "readwrite");
    await done(tx.objectStore("blocks").delete([block.recording, block.start]));
    await this.unload();
  }

  async forget(id) {
    const tx = this.database.transaction(["recordings"], "readwrite");
    await done(tx.objectStore("recordings").delete(id));
    this.recordings.delete(id);
  }

  write(name, value) {
    return new Promise((resolve, reject) => {
      const tx = this.database.transaction([name], "readwrite", { durability: "strict" });
      tx.oncomplete = () => resolve();
      tx.onabort = tx.onerror = () => reject(tx.error);
      tx.objectStore(name).put(value);
    });
  }
}
