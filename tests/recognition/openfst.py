"""OpenFst itself, through kaldifst, as a referee in a program of its own.

kaldifst and vosk each carry OpenFst and cannot both be loaded into one process. Reads a
path on each line of standard input and answers with a line of JSON; a path that ends in
".new" is written instead, as a graph of one state without words.
"""

from __future__ import annotations

import json
import sys

EVERYTHING = 0xFFFFFFFF0007
"""Every property that OpenFst knows."""


def main() -> None:
    import kaldifst

    for line in sys.stdin:
        path = line.strip()
        if path.endswith(".new"):
            graph = kaldifst.StdVectorFst()
            graph.start = graph.add_state()
            graph.write(path)
            answer: object = None
        else:
            read = kaldifst.StdVectorFst.read(path)
            answer = {
                "start": read.start,
                "properties": read.properties(EVERYTHING, True),
                "final": [read.final(state).value for state in range(read.num_states)],
                "arcs": [
                    [
                        [arc.ilabel, arc.olabel, arc.nextstate, arc.weight.value]
                        for arc in kaldifst.ArcIterator(read, state)
                    ]
                    for state in range(read.num_states)
                ],
            }
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
