// Where the names of marks on a line of time stand, so that no name covers another and no line
// runs through one. In its own file since it draws nothing, and so can be tried on numbers.

// Each of `marks` is { x, wide }: where it is and how wide its name is, px. Given back in their
// order is { row, from } of each name, or null where it finds no room: then its mark is all that
// is shown. A line runs from the top of the lane down to the row of a name; the lowest rows are
// filled first, so that the line of a later mark ends above an earlier name.
export function placeLabels(marks, width, rows, gap = 4) {
  const names = [];
  const lines = [];
  const free = (row, from, to) =>
    !names.some((one) => one.row === row && from < one.to + gap && one.from - gap < to)
    && !lines.some((one) => one.row >= row && one.x > from - gap && one.x < to + gap);
  const through = (row, x) => names.some((one) => one.row <= row && one.from - gap < x && x < one.to + gap);
  return marks.map(({ x, wide }) => {
    for (let row = rows - 1; row >= 0; row -= 1) {
      if (through(row, x)) continue;
      for (const from of [x + gap, x - gap - wide]) {
        if (from < 0 || from + wide > width || !free(row, from, from + wide)) continue;
        names.push({ row, from, to: from + wide });
        lines.push({ row, x });
        return { row, from };
      }
    }
    return null;
  });
}
