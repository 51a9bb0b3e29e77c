// What the page knows of a session: rows and reps by id, in order of time, and what is to check.
// A change brings only what is other than it was.

function changed(known, given) {
  if (given.order) known.order = given.order;
  const gone = new Set(given.gone);
  for (const name of gone) known.of.delete(name);
  if (!given.order && gone.size) known.order = known.order.filter((name) => !gone.has(name));
  const touched = [...gone];
  for (const { after, ...item } of given.changed) {
    if (!known.of.has(item.id) && !given.order) {
      const place = after ? known.order.indexOf(after) + 1 : 0;
      known.order.splice(place, 0, item.id);
    }
    known.of.set(item.id, item);
    touched.push(item.id);
  }
  return touched;
}

const listed = (items) => ({ order: items.map((one) => one.id), of: new Map(items.map((one) => [one.id, one])) });

export class State {
  constructor(whole) { this.take(whole); }

  take(whole) {
    this.stamp = whole.stamp;
    this.rows = listed(whole.rows);
    this.reps = listed(whole.reps);
    this.findings = listed(whole.findings);
    this.conditions = whole.conditions;
    this.check = whole.check;
    this.tonight = whole.tonight;
    this.count();
  }

  // Take in a difference; the ids of the rows to draw again.
  since(given) {
    this.stamp = given.stamp;
    const touched = new Set(changed(this.rows, given.rows));
    const numbers = this.numbers;
    changed(this.reps, given.reps);
    changed(this.findings, given.findings);
    this.conditions = given.conditions ?? this.conditions;
    this.tonight = given.tonight;
    if (Array.isArray(given.check)) this.check = given.check;
    else {
      const gone = new Set(given.check.gone);
      this.check = this.check.filter((name) => !gone.has(name));
      for (const [name, after] of given.check.added) {
        this.check.splice(after ? this.check.indexOf(after) + 1 : 0, 0, name);
      }
    }
    this.count();
    for (const row of this.rows.of.values()) {
      if (row.reps.some((rep) => this.numbers.get(rep) !== numbers.get(rep))) touched.add(row.id);
    }
    return touched;
  }

  // A rep's number is its place, so that none has to be sent again when one before it goes.
  count() {
    this.numbers = new Map(this.reps.order.map((name, place) => [name, place + 1]));
    const waiting = new Set(this.check);
    this.rest = this.rows.order.filter((name) => !waiting.has(name));
  }

  row(name) { return this.rows.of.get(name); }

  numbersOf(row) { return row.reps.map((rep) => this.numbers.get(rep)).filter(Boolean); }
}
