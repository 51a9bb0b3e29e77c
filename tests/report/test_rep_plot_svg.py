"""The SVG plot: well-formed, named, with its legend, and legible without colour."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import pairwise

from hypothesis import given, settings

from tests.known import known
from voicelog.model import Session
from voicelog.report.plot_marks import describe, drawn, legend
from voicelog.report.rep_plot_svg import plot_svg

from .build import full, rep, session, summary
from .strategies import sessions

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str | None]:
    return [element.text for element in ET.fromstring(svg).iter(f"{SVG}text")]


@settings(max_examples=60, deadline=None)
@given(sessions())
def test_any_session_draws_well_formed_xml_with_its_legend(work: Session) -> None:
    made = summary(work)
    svg = plot_svg(made)
    if not drawn(made.reps):
        assert svg == ""
        return
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    named = {element.get("id") for element in root if element.tag in (f"{SVG}title", f"{SVG}desc")}
    assert set((root.get("aria-labelledby") or "").split()) == named
    assert len(named) == 2
    assert {words for _, words in legend(made.reps)} <= set(texts(svg))
    assert {str(rep.number) for rep in drawn(made.reps)} <= set(texts(svg))


@settings(max_examples=60, deadline=None)
@given(sessions())
def test_nothing_is_drawn_outside_the_picture(work: Session) -> None:
    svg = plot_svg(summary(work))
    if svg:
        root = ET.fromstring(svg)
        _, _, width, height = map(float, (root.get("viewBox") or "").split())
        for circle in root.iter(f"{SVG}circle"):
            x, y, r = (float(circle.get(name) or "nan") for name in ("cx", "cy", "r"))
            assert r <= x <= width - r
            assert r <= y <= height - r
        for text in root.iter(f"{SVG}text"):
            assert 0 <= float(text.get("x") or "nan") <= width
            assert 10 <= float(text.get("y") or "nan") <= height


def test_the_description_says_every_rep_in_words() -> None:
    made = summary(
        session(
            [
                rep(1),
                rep(2, "continuous", (2, 4), "ignored", signs=(("yelped", "strong"),)),
                rep(3, outcome="left", doubtful=True),
                rep(4, void=True),
            ]
        )
    )
    desc = ET.fromstring(plot_svg(made)).find(f"{SVG}desc")
    assert desc is not None
    assert desc.text == (
        "Rep 1: no button, came or done. Rep 2: cont. 2, 4, ignored, stress. "
        "Rep 3: no button, peeled off, to check, not counted."
    )


def test_no_colour_but_the_pages_ink_is_used() -> None:
    svg = plot_svg(full())
    for element in ET.fromstring(svg).iter():
        for name in ("fill", "stroke"):
            assert element.get(name) in (None, "none", "currentColor")
    assert "#" not in svg


def test_each_outcome_has_a_shape_of_its_own() -> None:
    drawings = {
        outcome: plot_svg(summary(session([rep(1, outcome=outcome)]))).split("<line")[-1]
        for outcome in ("complied", "slow", "ignored", "helped", "left", "broke", "unknown")
    }
    assert len({text.split(">1</text>")[1].split("</text>")[0] for text in drawings.values()}) == 7


def test_a_rep_to_check_has_a_dashed_outline() -> None:
    sure, check = (
        plot_svg(summary(session([rep(1, "continuous", (2,), doubtful=doubtful)])))
        for doubtful in (False, True)
    )
    assert "stroke-dasharray" not in sure
    assert check.count('stroke-dasharray="3.5 3"') == 2  # the rep, and its legend


def test_with_links_each_mark_leads_somewhere_and_nothing_is_styled_inline() -> None:
    made = full()
    reps = {rep.number: f"#e-{rep.number}&" for rep in made.reps}
    svg = ET.fromstring(plot_svg(made, links=reps))
    links = {link.get("href"): link.get("aria-label") for link in svg.iter(f"{SVG}a")}
    shown = drawn(made.reps)
    assert links == {reps[rep.number]: describe(rep) for rep in shown}
    areas = [link.find(f"{SVG}rect") for link in svg.iter(f"{SVG}a")]
    sides = [(area.get("width"), area.get("height")) for area in areas if area is not None]
    assert sides == [("44", "44")] * len(shown)  # a thumb's width, and none lies over another
    lefts = sorted(float(known(area).get("x", "")) for area in areas)
    assert all(right - left >= 44 for left, right in pairwise(lefts))
    assert not [element for element in svg.iter() if element.get("style")]
    assert {rep.at for rep in shown} <= {text.text for text in svg.iter(f"{SVG}text")}
