"""The pictures over weeks: each point leads to its session, words and table equal the data, nothing
lies outside, and shapes, not colours, carry the meaning."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import FIRST, UNIT, Dog, good, rep, session_digest, stopped
from tests.known import known
from voicelog.analysis.kennel import KENNEL_SESSIONS, kennel
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import scope_of
from voicelog.model import Dog as Profile
from voicelog.model import Transmitter
from voicelog.report import kennel_paper, paper_html, progress_paper
from voicelog.report.course_svg import places, shown_points
from voicelog.report.paper import (
    CourseFigure,
    CoursePoint,
    Figure,
    SoundReference,
    StripFigure,
    TimesFigure,
)
from voicelog.report.session_plot_data import course_figure, strip_figure
from voicelog.report.session_plots_svg import plot_svgs
from voicelog.report.svg_parts import NARROW, WIDE
from voicelog.safety.settings import Settings

SVG = "{http://www.w3.org/2000/svg}"
JUNO = Profile(name="Juno", transmitter=UNIT)


def link(ref: SoundReference) -> str:
    return f"/session/{ref.session}?rep={ref.number}"


def course(sessions: Sequence[SessionDigest], today: date | None = None) -> CourseFigure:
    return known(course_figure(sessions, scope_of(sessions, today), "recall", 9, today))


def worked(days: Sequence[int], seed: int = 1) -> list[SessionDigest]:
    """An invented dog's sessions on these days after the first."""
    some = Dog(seed, stress=9.0).sessions(len(days), 8)
    return [
        one._replace(session=f"s{number}", began=FIRST + timedelta(days=day, minutes=number))
        for number, (day, one) in enumerate(zip(sorted(days), some, strict=True))
    ]


def links(svgs: Sequence[str]) -> dict[str, str]:
    """What each link of the pictures says, by where it leads."""
    return {
        known(each.get("href")): known(each.get("aria-label"))
        for one in svgs
        for each in ET.fromstring(one).iter(f"{SVG}a")
    }


histories = st.lists(st.integers(0, 500), min_size=1, max_size=30)


@pytest.mark.parametrize("width", [WIDE, NARROW])
@given(histories, st.integers(0, 99))
@settings(max_examples=10, deadline=None)
def test_each_point_leads_to_its_session_and_words_equal_the_data(
    width: float, days: list[int], seed: int
) -> None:
    sessions = worked(days, seed)
    figure = course(sessions)
    svgs = plot_svgs(figure, "x", width, link)
    _, shown = shown_points(figure, width)
    assert links(svgs) == {f"/session/{one.ref.session}?rep=0": one.words for one in shown}
    said = known(ET.fromstring(svgs[0]).find(f"{SVG}desc")).text
    assert said == " ".join(one.words for one in shown)
    assert shown == figure.points[len(figure.points) - len(shown) :]
    assert (len(svgs) == 2) == (len(shown) < len(sessions))
    for one, digest in zip(figure.points, sessions, strict=True):
        calls = [r for r in digest.reps if r.state == "sure" and r.cues and r.outcome]
        free = sum(r.mode == "none" and r.outcome == "complied" and r.cues == 1 for r in calls)
        assert f"unaided {free} of {len(calls)} call" in one.words
        levels = [level for r in digest.reps for level in r.levels]
        if levels:
            low, high = min(levels), max(levels)
            span = f"level {low}" if low == high else f"levels {low} to {high}"
            assert span in one.words
        assert ("strong sign" in one.words) == any(r.strong for r in digest.reps)


@pytest.mark.parametrize("width", [WIDE, NARROW])
@given(histories, st.integers(0, 99))
@settings(max_examples=10, deadline=None)
def test_points_stand_near_their_day_apart_and_nothing_lies_outside(
    width: float, days: list[int], seed: int
) -> None:
    figure = course(worked(days, seed))
    axis, shown = shown_points(figure, width)
    xs = places(axis, shown)
    if len(shown) < 20:
        assert all(b - a > 7.9 for a, b in pairwise(xs))
    for x, one in zip(xs, shown, strict=True):
        if len(set(days)) == len(days):
            assert abs(x - axis.x(known(one.at.day))) <= 7
    for svg in plot_svgs(figure, "x", width, link):
        root = ET.fromstring(svg)
        _, _, wide, high = map(float, known(root.get("viewBox")).split())
        assert wide == width
        for each in root.iter(f"{SVG}text"):
            if each.get("text-anchor") == "start" and float(known(each.get("x"))) > 0:
                assert 6.0 * len(each.text or "") + float(known(each.get("x"))) < width + 20
            assert float(known(each.get("y"))) <= high
        for each in root.iter(f"{SVG}circle"):
            assert 0 <= float(known(each.get("cx"))) <= wide


def test_a_gap_is_as_wide_as_it_was_and_no_line_crosses_it() -> None:
    sessions = worked([0, 2, 4, 30, 32])
    axis, shown = shown_points(course(sessions), WIDE)
    xs = places(axis, shown)
    assert (xs[3] - xs[2]) / (xs[1] - xs[0]) == pytest.approx(13)
    (svg,) = plot_svgs(course(sessions), "x", WIDE)
    crossing = f"M{xs[2]:.1f} "
    lines = [part for part in re.findall(r'd="(M[^"]*L[^"]*)"', svg) if part.startswith(crossing)]
    assert not [part for part in lines if f"L{xs[3]:.1f} " in part]
    assert [part for part in re.findall(r'd="(M[^"]*)"', svg) if f"L{xs[4]:.1f} " in part
            and part.startswith(f"M{xs[3]:.1f} ")]  # fmt: skip


def test_the_axis_goes_on_to_today_unless_that_is_far_off() -> None:
    sessions = worked([0, 3])
    last = known(sessions[-1].day)
    assert course(sessions, last + timedelta(days=20)).last == last + timedelta(days=20)
    assert course(sessions, last + timedelta(days=900)).last == last
    assert course(sessions, last - timedelta(days=2)).last == last


def test_hundreds_of_sessions_are_the_newest_and_all_months() -> None:
    sessions = worked(range(0, 1000, 5))
    figure = course(sessions)
    newest, months = plot_svgs(figure, "x", WIDE, link)
    assert 10 < len(links([newest])) < 200
    assert links([months]) == {}
    assert sum(one.at.sessions for one in figure.months) == 200
    said = known(ET.fromstring(months).find(f"{SVG}desc")).text
    assert said == " ".join(one.words for one in figure.months)
    first = figure.months[0].at
    march = [one.at for one in figure.points if known(one.at.day).replace(day=1) == first.first]
    assert known(first.share).count == sum(one.unaided for one in march)


def test_levels_of_another_transmitter_are_not_drawn() -> None:
    other = [one._replace(transmitter=Transmitter(top=9)) for one in worked([0, 2])]
    sessions = [*other, good(5, button=3)]
    points = course(sessions).points
    assert [one.at.high for one in points] == [None, None, 3]
    assert "levels of another transmitter" in points[0].words
    assert points[0].at.asked
    (svg,) = plot_svgs(course(sessions), "x", WIDE)
    assert "other transmitter or mode: not shown" in svg
    assert "other transmitter" not in plot_svgs(course([good(5, button=3)]), "x", WIDE)[0]


def test_where_no_level_ever_was_there_is_one_panel_and_no_word_of_levels() -> None:
    figure = course([good(0), good(1)])
    (svg,) = plot_svgs(figure, "x", WIDE)
    assert "evel" not in svg + figure.title
    assert "ceiling" not in svg
    made = progress_paper.build([good(0), good(1)], JUNO, Settings())
    table = re.search(r"<table>.*?</table>", paper_html.render(made))
    assert "evel" not in known(table).group()


def test_where_the_newest_sessions_had_no_level_it_is_said() -> None:
    sessions = [good(0, button=3), *(good(day) for day in range(900, 990, 3))]
    newest, _ = plot_svgs(course(sessions), "x", WIDE)
    assert "No level was used in these sessions." in newest


def test_days_not_known_are_told_not_placed() -> None:
    sessions = [good(0)._replace(began=None), good(3)]
    figure = course(sessions)
    assert len(figure.points) == 2
    (svg,) = plot_svgs(figure, "x", WIDE, link)
    assert list(links([svg])) == ["/session/s3?rep=0"]
    assert "Not drawn, since the day is not known: 1." in svg
    undated = [sessions[0]]
    assert course_figure(undated, scope_of(undated), "recall") is None


def test_few_calls_look_like_few() -> None:
    (svg,) = plot_svgs(course([good(0), good(2, 2, 3)]), "x", WIDE)
    assert svg.count('r="4.4"') == svg.count('r="2.6"') == 2  # one session, and the legend's
    assert "fewer than 5 calls" in svg


def test_a_session_with_something_open_has_a_mark_of_its_own_until_it_is_closed() -> None:
    sessions = [good(0), stopped(good(2, button=1), "over-ceiling")]
    figure = course(sessions)
    assert [one.marks for one in figure.points] == [(), ("stop", "open matter")]
    (svg,) = plot_svgs(figure, "x", WIDE)
    assert all(f">{lane}<" in svg for lane in ("stop", "open matter"))
    assert "open matter" not in plot_svgs(course(sessions[:1]), "x", WIDE)[0]
    closed = known(course_figure(sessions, scope_of(sessions, None, ()), "recall"))
    assert closed.points[1].marks == ("stop",)
    (svg,) = plot_svgs(closed, "x", WIDE)
    assert "open matter" not in svg


def test_a_strong_sign_is_told_with_its_level() -> None:
    yelp = rep(1, "continuous", [4], signs=[("yelped", "strong", 4)])
    point = course([good(0), session_digest([yelp], 3)]).points[-1]
    assert "strong sign" in point.marks
    assert point.noted.startswith("strong sign at 4")


def figures() -> list[Figure]:
    sessions = [stopped(one, "over-ceiling") for one in worked([0, 3, 5, 40])]
    found = kennel({"Juno": sessions}, [JUNO], {"": Settings()}, date(2031, 4, 12))
    made = progress_paper.build(sessions, JUNO, Settings(), date(2031, 4, 12))
    shown = [one.figure for one in made.sections if one.figure]
    shown += [known(strip_figure(found, {"Juno": sessions}))]
    return shown


def test_pictures_use_the_ink_of_the_page_and_style_nothing_inline() -> None:
    kinds = set()
    for figure in figures():
        kinds.add(type(figure))
        for width in (WIDE, NARROW):
            for svg in plot_svgs(figure, "x", width, link):
                root = ET.fromstring(svg)
                named = known(root.get("aria-labelledby")).split()
                assert named == [root[0].get("id"), root[1].get("id")]
                assert len(known(root[1].text)) > 40
                for each in root.iter():
                    assert each.get("style") is None
                    for ink in (each.get("fill"), each.get("stroke")):
                        assert ink in (None, "none", "currentColor", "var(--paper, #fff)")
    assert kinds == {CourseFigure, StripFigure, TimesFigure}


def test_the_table_says_the_same_and_ids_are_unique() -> None:
    sessions = worked([0, 3, 5, 40])
    made = progress_paper.build(sessions, JUNO, Settings(), date(2031, 4, 12))
    page = paper_html.render(made, link=link)
    assert len(re.findall(r'id="([^"]+)"', page)) == len(set(re.findall(r'id="([^"]+)"', page)))
    for one in course(sessions).points:
        row = f'<a href="/session/{one.ref.session}?rep=0">{one.ref.day}</a></th>'
        assert f"{row}<td>{one.unaided}</td><td>{one.levels}</td><td>{one.noted}</td>" in page
    assert "The same in numbers: 4 sessions" in page


# --- the kennel ------------------------------------------------------------------------


def strip(
    dogs: dict[str, list[SessionDigest]], today: date = date(2031, 4, 12)
) -> StripFigure | None:
    found = kennel(dogs, [Profile(name=name, transmitter=UNIT) for name in dogs], {}, today)
    return strip_figure(found, dogs)


@given(st.lists(histories, min_size=1, max_size=4), st.integers(0, 500))
@settings(max_examples=10, deadline=None)
def test_each_box_of_the_strip_leads_to_its_session(many: list[list[int]], now: int) -> None:
    dogs = {
        f"Dog{number}": [
            one._replace(session=f"d{number}-{one.session}") for one in worked(days, number)
        ]
        for number, days in enumerate(many)
    }
    today = FIRST.date() + timedelta(days=now)
    figure = strip(dogs, today)
    inside = {
        one.session
        for some in dogs.values()
        for one in sorted(some, key=lambda each: known(each.began))[-KENNEL_SESSIONS:]
        if 0 <= (today - known(one.day)).days < 42
    }
    if figure is None:
        assert not inside
        return
    svgs = plot_svgs(figure, "x", WIDE, link)
    assert {href.split("/")[2].split("?")[0] for href in links(svgs)} == inside
    words = {
        one.ref.session: f"{row.dog}, {one.words}" for row in figure.rows for one in row.points
    }
    assert set(links(svgs).values()) == set(words.values())
    narrow = links(plot_svgs(figure, "x", NARROW, link))
    assert narrow.items() <= links(svgs).items()
    by_name = {row.dog: row.points for row in figure.rows}
    assert set(by_name) == set(dogs)
    said = known(ET.fromstring(svgs[0]).find(f"{SVG}desc")).text or ""
    for dog, points in by_name.items():
        told = " ".join(one.words for one in points) or "not worked in these weeks."
        assert f"{dog}: {told}" in said


def test_what_was_not_read_is_not_shown_as_days_off() -> None:
    figure = known(strip({"Juno": [good(day) for day in range(42)]}))
    (row,) = figure.rows
    assert len(row.points) == KENNEL_SESSIONS
    assert row.since == date(2031, 3, 1) + timedelta(days=42 - KENNEL_SESSIONS)
    (svg,) = plot_svgs(figure, "x", WIDE)
    assert "earlier, not read here" in svg
    assert "earlier" not in plot_svgs(known(strip({"Juno": [good(30)]})), "x", WIDE)[0]


def test_two_sessions_of_a_day_stand_side_by_side() -> None:
    evening = datetime(2031, 4, 10, 18)
    twice = [good(40), good(40)._replace(session="evening", began=evening)]
    svgs = plot_svgs(known(strip({"Juno": twice})), "x", WIDE, link)
    boxes = re.findall(r'<rect class="band" x="([\d.]+)"', svgs[0])
    assert len(set(boxes)) == 2


def test_the_strip_marks_what_is_open_and_names_no_level() -> None:
    figure = known(strip({"Juno": [stopped(good(40, button=2), "over-ceiling")]}))
    (point,) = figure.rows[0].points
    assert point.marks == ("stop", "open matter")
    assert "level" not in point.words
    (svg,) = plot_svgs(figure, "x", WIDE)
    assert all(f">{mark}<" in svg for mark in point.marks)
    unmarked = known(strip({"Juno": [good(40)]}))
    assert not unmarked.rows[0].points[0].marks
    assert ">open matter<" not in plot_svgs(unmarked, "x", WIDE)[0]


def test_a_long_list_of_dogs_is_drawn_in_pictures_that_may_break() -> None:
    dogs = {f"Dog{number:02}": [good(40)] for number in range(40)}
    svgs = plot_svgs(known(strip(dogs)), "x", WIDE, link)
    assert len(svgs) == 3
    assert sum("not worked" in known(ET.fromstring(one)[-1].text or "") for one in svgs) == 0
    assert ["filled: share" in one for one in svgs] == [False, False, True]


def test_a_dogs_name_is_escaped_and_cut() -> None:
    evil = "<b>&amp; the Long Meadow"
    figure = known(strip({evil: [good(40)]}))
    (svg,) = plot_svgs(figure, "x", NARROW, link)
    texts = [each.text for each in ET.fromstring(svg).iter(f"{SVG}text")]
    assert any((text or "").endswith("…") and evil.startswith((text or "")[:-1]) for text in texts)
    assert evil in [each.text for each in ET.fromstring(svg).iter(f"{SVG}title")]


def test_the_kennels_paper_counts_what_the_strip_shows() -> None:
    dogs = {"Juno": [good(40), good(30)], "Rook": list[SessionDigest]()}
    found = kennel(dogs, [JUNO, Profile(name="Rook", transmitter=UNIT)], {}, date(2031, 4, 12))
    made = kennel_paper.build(found, dogs, Settings())
    weeks = next(one for one in made.sections if one.title == "Last weeks")
    words = "2 sessions with 1 of 2 dogs in 6 weeks; a stop in 0."
    assert weeks.lines[0].words == words


def test_words_of_a_point_are_those_of_its_cells() -> None:
    point: CoursePoint = course([good(0, button=2)]).points[0]
    parts = (point.ref.day, f"unaided {point.unaided}", point.levels)
    assert point.words == f"{parts[0]}: {parts[1]}; {parts[2]}."
