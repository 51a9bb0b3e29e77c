"""No character that reaches a terminal moves its cursor, hides or turns words."""

from __future__ import annotations

import io
import json

from hypothesis import given
from hypothesis import strategies as st

from voicelog.report.plain_stream import PlainStream, json_escaped, unguarded

HOSTILE = ["\x1b[2J", "\x1b[8m", "\x1b]0;title\x07", "\r", "\x9b2J", "\u202e", "\u2066", "\0", "\b"]


def shown(text: str) -> str:
    sink = io.StringIO(newline="")
    assert PlainStream(sink).write(text) == len(text)
    return sink.getvalue()


def test_what_moves_or_hides_is_replaced_and_our_colours_pass() -> None:
    for one in HOSTILE:
        assert not set(shown(f"a{one}b")) & set("\x1b\x07\r\x9b\u202e\u2066\0\b"), repr(one)
    paper = "\x1b[1;31mSTOP\x1b[0m  Bracken\tº é\r\nnext\n"
    assert shown(paper) == paper
    sink = io.StringIO()
    assert unguarded(PlainStream(sink)) is sink
    assert unguarded(sink) is sink


@given(st.text())
def test_json_passes_and_means_the_same(words: str) -> None:
    text = json_escaped(json.dumps({"words": words}, ensure_ascii=False))
    assert json.loads(text) == {"words": words}
    assert shown(text) == text
