"""The page in a real browser, as a trainer uses it in the evening: mostly by keys."""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from tests.bench.page_pictures import CUT, SPACE
from tests.known import known
from tests.web.evening import FULL, LEVELS, NOW, QUEUE, ROSTER, SIXTY, keep, tone
from tests.web.evening_player import LEFT, EveningPlayer
from tests.web.waiting import PATIENCE_S, drawn, until
from voicelog.app.lock import lock_whole_log
from voicelog.store import Log

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, StorageState

playwright = pytest.importorskip("playwright.sync_api", reason="needs playwright")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="needs Debian's chromium"),
    pytest.mark.timeout(300),  # the longest takes ten seconds; on machines with other work
]
SESSIONS = {"sixty": SIXTY, "levels": LEVELS, "keys": LEVELS, "two": LEVELS, "axe": LEVELS}
SESSIONS |= dict.fromkeys(("guess", "late", "held True", "held False", "field"), LEVELS)
SESSIONS |= {"unseen": SIXTY}
YELPED = ("start session wren", "here level three", "?yelped | head turn", "came")
SESSIONS |= {"snapped": ("start session bracken", "here no button snapped", "came")}
SESSIONS |= {"talk": ("start session wren", "here no button came", "x whined retrieve")}
HELD = ("drill recall", "distraction low scent", "line clipped", "location woods")
SESSIONS |= {"held": ("start session bracken", *HELD, *("here no button came",) * 12, *HELD)}
WITH_SOUND = ("levels", "strip", "yelped", "talk")
SESSIONS |= {"strip": LEVELS, "queue": QUEUE[0], "yelped": YELPED}
SESSIONS |= {"above": LEVELS, "heard above": ("start session bracken", "?here level thirty came")}
SESSIONS |= {"again": LEVELS}
SESSIONS |= {"guessed": ("start session wren", "here no button came", "x whined retrieve")}
IDLE = "!document.documentElement.hasAttribute('data-busy')"
READY = f"{IDLE} && document.activeElement.closest('.row.now')"
"""Nothing is on its way, and the row that one is at has the keys."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the log that is served."""
    return tmp_path_factory.mktemp("log")


class Served:
    """The page, served by the command itself: what it prints, and where it is."""

    def __init__(self, said: IO[str]) -> None:
        self._said = said
        self.printed = ""
        self.once = self.read_address()
        """The newest address that opens the page once."""
        self.address = self.once.partition("/open/")[0]

    def read_address(self) -> str:
        while True:
            line = self._said.readline()
            assert line, self.printed
            self.printed += line
            if found := re.search(r"http://127\.0\.0\.1:\d+/open/\S+", line):
                return found.group()

    def let_in(self, page: Page) -> None:
        """Open the newest address, as its user does, and read the next."""
        page.goto(self.once)
        assert page.url == f"{self.address}/"
        self.once = self.read_address()


@pytest.fixture(scope="module")
def served(folder: Path) -> Iterator[Served]:
    """The page with a session for each test."""
    with Log.open(folder, now=lambda: NOW) as log:
        for dog in (*ROSTER.dogs, FULL):
            log.put_dog(dog)
        for day, (name, lines) in enumerate(SESSIONS.items(), start=1):
            sound = tone(4.0 * len(lines) + day / 10) if name in WITH_SOUND else None
            keep(log, lines, name, at=datetime(2026, 4, day, 7, 30), sound=sound)
    with serving(folder) as there:
        yield there


@contextmanager
def serving(folder: Path) -> Iterator[Served]:
    """The page of the log in a folder, as the command serves it."""
    code = "from voicelog.cli import main; main()"
    command = [sys.executable, "-c", code, "review", "--port", "0", "--no-browser"]
    command += ["--as", "Anna", "--data-dir", str(folder)]
    with (
        (folder / "said.txt").open("w") as said,
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=said, text=True) as running,
    ):
        try:
            assert running.stdout is not None
            yield Served(running.stdout)
        finally:
            running.send_signal(signal.SIGINT)
            running.wait(timeout=PATIENCE_S)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with playwright.sync_playwright() as run:
        browser = run.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


class Reader:
    """Somebody on the page, who counts the keys that are pressed."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address, self.presses = page, address, 0
        self.wrong: list[str] = []
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("console", lambda note: self.wrong.append(note.text))

    def open(self, name: str) -> Reader:
        day = list(SESSIONS).index(name) + 1
        deadline = time.monotonic() + PATIENCE_S
        while True:  # the log is derived while the page is there already
            self.page.goto(f"{self.address}/?text={name}.wav")
            link = self.page.get_by_role("link", name=f" {day} Apr 2026")
            if link.count() or time.monotonic() > deadline:
                break
            time.sleep(0.2)
        link.click()
        self.page.wait_for_selector(".row.now")
        return self

    def go_to(self, words: str) -> Reader:
        for _ in range(2):
            if self.now != words:
                self.press("ArrowDown")
        assert self.now == words
        return self

    def refused(self) -> None:
        """Nothing went wrong in the page but that something was refused, as it should be."""
        assert all("status of 422" in line for line in self.wrong), self.wrong
        self.wrong.clear()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.presses += 1
            self.page.keyboard.press(key)

    def typed(self, text: str) -> None:
        """Type in the field that is open, and wait for what it offers."""
        with self.page.expect_response(lambda reply: f"text={text}" in reply.url):
            self.press(*text)
        self.page.wait_for_selector(".choices [aria-selected=true]")

    def changing(self, *keys: str) -> None:
        """Press keys, the last of which changes something, and wait until it is shown."""
        with self.page.expect_response(lambda reply: reply.request.method == "POST") as answer:
            self.press(*keys)
        assert answer.value.ok, answer.value.text()
        self.page.wait_for_selector("#said p")
        until(self.page, READY)

    @property
    def now(self) -> str:
        return self.page.locator(".row.now .words").inner_text()

    @property
    def said(self) -> str:
        return self.page.locator("#said").inner_text()

    def rep(self, number: int) -> str:
        return self.page.locator(f"tr[data-rep='{number}']").inner_text().replace("\t", " ")


def go(page: Page, address: str) -> None:
    """Open a page, with what its script draws."""
    page.goto(address)
    if "/session/" in address:
        page.wait_for_selector(".row.now")
    elif address.endswith("/evening"):
        page.wait_for_selector(".card .asked")


def patient(chromium: Browser, **settings: Any) -> BrowserContext:
    """A browser of its own, on a machine that may be slow."""
    context = chromium.new_context(**settings)
    context.set_default_timeout(1000 * PATIENCE_S)
    return context


def enter(chromium: Browser, served: Served, **settings: Any) -> Reader:
    """A browser of its own that is let in."""
    made = Reader(patient(chromium, **settings).new_page(), served.address)
    served.let_in(made.page)
    return made


SLOWLY = """(() => { const play = HTMLMediaElement.prototype.play;
  HTMLMediaElement.prototype.play = function () {
    this.playbackRate = 0.1;
    return play.call(this); }; })()"""
"""What is played from now on lasts ten times as long: a clip is not over before it is looked at."""


@pytest.fixture(scope="module")
def let_in(chromium: Browser, served: Served) -> StorageState:
    """What a browser keeps that was let in."""
    context = enter(chromium, served).page.context
    state = context.storage_state()
    context.close()
    return state


@pytest.fixture
def reader(chromium: Browser, served: Served, let_in: StorageState) -> Iterator[Reader]:
    """A browser of its own that was let in before."""
    context = patient(chromium, storage_state=let_in)
    made = Reader(context.new_page(), served.address)
    yield made
    assert made.wrong == []
    context.close()


@pytest.fixture
def newcomer(chromium: Browser, served: Served) -> Iterator[Reader]:
    """A browser of its own that is let in now: it has heard nothing of any session."""
    made = enter(chromium, served)
    yield made
    assert made.wrong == []
    made.page.context.close()


def test_the_page_is_open_only_to_who_opened_the_printed_address(
    chromium: Browser, served: Served, folder: Path
) -> None:
    used = served.once
    reader = enter(chromium, served)
    page = reader.page
    assert page.evaluate("document.referrer") == ""
    secret = used.rpartition("/")[2]
    assert secret not in page.content()
    (cookie,) = page.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"], cookie["expires"]) == (True, "Strict", -1)
    assert page.evaluate("document.cookie") == ""
    page.reload()
    assert page.get_by_role("heading", name="Sessions").count() == 1
    other = chromium.new_context().new_page()
    for address in (used, f"{served.address}/", f"{served.address}/static/page.js"):
        reply = other.goto(address)
        assert known(reply).status == 403, address
        assert "open the newest" in other.content()
    other.context.close()
    post = Request(f"{served.address}/api/dog", data=b"{}", method="POST")
    with pytest.raises(HTTPError) as refused:
        urlopen(post)
    refused.value.close()
    assert refused.value.status == 403
    assert secret not in (folder / "said.txt").read_text()
    second = enter(chromium, served)  # by the address that was printed next
    for one in (second, reader):
        one.page.goto(f"{served.address}/dogs")
        assert one.page.get_by_role("heading", name="Dogs").count() == 1
        one.page.context.close()


def test_a_level_is_corrected_voided_undone_and_a_reload_loses_nothing(reader: Reader) -> None:
    page = reader.open("levels").go_to("level nineteen").page
    assert "check" in reader.rep(1)
    assert "cont. 19" in reader.rep(1)
    reader.press("/")
    reader.typed("9")
    reader.changing("Enter")
    assert "cont. 9" in reader.rep(1)
    assert "Rep 1: mark sure (was check), button cont. 9 (was cont. 19)." in reader.said
    assert "Started at level 9 in rep 1" in reader.said
    assert "Started at level 9 in rep 1" in page.locator("[data-part=findings]").inner_text()
    assert "1 answered at 9" in page.locator(".counts").inner_text()
    shown = [page.locator(part).first.inner_text() for part in ("table.reps", ".notices")]
    page.reload()
    page.wait_for_selector(".row.now")
    assert "cont. 9" in reader.rep(1)
    again = [page.locator(part).first.inner_text() for part in ("table.reps", ".notices")]
    assert again == shown  # what a correction changed is what the whole page says
    reader.changing("u")
    assert "cont. 19" in reader.rep(1)
    reader.changing("r")
    assert "cont. 9" in reader.rep(1)
    page.get_by_role("button", name="sure at 0:20").click()
    reader.changing("Delete")
    assert "void" in reader.rep(2)
    assert page.locator(".row.void .words").inner_text() == "here level three came"
    reader.changing("u")
    assert "sure" in reader.rep(2)


def test_sound_plays_and_the_plot_leads_to_it(reader: Reader) -> None:
    page = reader.open("levels").page
    playing = "document.getElementById('player').currentTime > 0.05"
    page.evaluate(SLOWLY)
    reader.press("Space")
    until(page, playing)
    length = page.evaluate("document.getElementById('player').duration")
    assert length == pytest.approx(1.5 + 0.7 + 0.7, abs=0.01)
    page.locator(".plot a").last.click()
    until(page, "document.querySelector('.row.now').textContent.includes('level three')")
    until(page, playing)
    assert page.locator("#stop").is_visible()
    reader.press("Space")
    assert page.locator("#stop").is_hidden()


def test_a_gap_of_the_timeline_is_dragged_over_and_what_was_missed_is_added(
    reader: Reader,
) -> None:
    page = reader.open("strip").page
    field = page.locator(".strip .field")
    page.evaluate("window.scrollTo(0, 0)")  # the row that has the keys may be far below
    drawn(page)  # rows that come into the window with it may move the rest
    box = known(field.bounding_box())
    length = float(known(field.get_attribute("aria-valuemax")))

    def x(at_s: float) -> float:
        return box["x"] + at_s / length * box["width"]

    page.mouse.move(x(2.0), box["y"] + 30)
    page.mouse.down()
    page.mouse.move(x(3.5), box["y"] + 30, steps=3)
    page.mouse.up()
    drawn(page)
    assert "0:02 to 0:03, 1.5 s" in page.locator(".stretch").inner_text()
    page.get_by_role("button", name="Add what was missed").click()
    page.keyboard.type("line clipped")
    page.wait_for_selector("#add [aria-selected=true]")
    reader.changing("Enter")
    assert reader.now == "line clipped"
    assert page.locator(".row.now .at").inner_text() == "0:02"
    page.evaluate("window.scrollTo(0, 0)")
    drawn(page)
    box = known(field.bounding_box())
    page.evaluate(SLOWLY)
    page.mouse.click(x(20.3), box["y"] + 105)  # on the entry there: it is chosen, and plays
    until(page, "!document.getElementById('stop').hidden")
    assert reader.now == "here level three came"
    field.press("Home")
    field.press("+")
    drawn(page)
    assert field.get_attribute("aria-valuetext") == "0:00, sure: start session bracken"
    page.locator(".strip summary").click()
    page.wait_for_selector(".moment")
    moments = [" ".join(one.split()) for one in page.locator(".moment").all_inner_texts()]
    assert any(line.startswith("0:04 from here drill recall") for line in moments)
    assert any("rep 2" in line and "cont. 3" in line for line in moments)


DRAWN = """() => { const pen = CanvasRenderingContext2D.prototype; window.drawn = [];
  const { fillText, fillRect } = pen;
  pen.fillText = function (text, x, y) {
    window.drawn.push([text, x, y - 5, x + this.measureText(text).width, y + 5]);
    fillText.call(this, text, x, y); };
  pen.fillRect = function (x, y, wide, tall) {
    window.drawn.push(["", x, y, x + wide, y + tall]);
    fillRect.call(this, x, y, wide, tall); }; }"""
"""Keeps what is drawn: its words, where it begins and where it ends, px."""


@pytest.mark.parametrize("wide", [1280, 390])
def test_on_the_timeline_the_name_of_a_condition_is_crossed_by_nothing(
    reader: Reader, wide: int
) -> None:
    page = reader.page
    page.set_viewport_size({"width": wide, "height": 900})
    reader.open("held")
    page.evaluate(f"({DRAWN})()")
    page.evaluate("window.dispatchEvent(new Event('resize'))")
    until(page, "window.drawn.some(one => one[0].startsWith('drill'))")
    lane = [one for one in page.evaluate("window.drawn") if one[2] >= 190 and one[4] <= 260]
    names = [one for one in lane if one[0]]
    marks = [one for one in lane if not one[0] and one[3] - one[1] < 3]
    width = page.locator(".strip canvas").evaluate("one => one.clientWidth")
    assert len(marks) > len(names) >= 2
    field, tail = ".strip .field", ".strip .tail:not(.shown)"
    below = page.locator(field).evaluate("one => one.getBoundingClientRect().bottom")
    canvas = page.locator(f"{field} canvas").evaluate("one => one.getBoundingClientRect().bottom")
    text = page.locator(tail).evaluate("one => one.getBoundingClientRect().top")
    assert canvas <= below <= text
    for one in names:
        name, left, top, right, bottom = one
        assert (left >= 0, right <= width) == (True, True), name
        near = [other for other in (*marks, *names) if other != one]
        crossed = [
            (words, x)
            for words, x, y, end, under in near
            if x < right and left < end and y < bottom and top < under
        ]
        assert crossed == [], name


def test_on_a_phone_more_is_marked_for_what_is_reached_by_it(reader: Reader) -> None:
    page = reader.page

    def lines(at: str) -> list[str]:
        page.goto(f"{reader.address}{at}")
        return list(
            page.evaluate(
                "[...document.querySelectorAll('.top nav a')].filter(one => one.checkVisibility()"
                " && !getComputedStyle(one).borderBottomColor.endsWith(' 0)')).map(one => one.text)"
            )
        )

    page.set_viewport_size({"width": 390, "height": 844})
    assert [lines(at) for at in ("/kennel", "/settings", "/add")] == [["More"], ["More"], ["Add"]]
    page.set_viewport_size({"width": 1280, "height": 900})
    assert [lines(at) for at in ("/kennel", "/settings")] == [["Kennel"], ["More"]]


def test_on_a_phone_what_is_to_check_comes_before_the_timeline(reader: Reader) -> None:
    page = reader.open("strip").page
    places = "['#strip', '[data-rows=check]'].map(one => document.querySelector(one).offsetTop)"
    strip, rows = page.evaluate(places)
    assert strip < rows
    page.wait_for_selector(".plot a")
    page.set_viewport_size({"width": 390, "height": 844})
    until(page, "document.querySelector('.lane #strip') !== null")
    strip, rows = page.evaluate(places)
    assert rows < strip
    small = page.evaluate(
        "[...document.querySelectorAll('summary, .plot a')].filter(one => one.checkVisibility())"
        ".filter(one => one.getBoundingClientRect().height < 44).map(one => one.outerHTML)"
    )
    assert small == []
    page.set_viewport_size({"width": 1280, "height": 900})
    until(page, "document.querySelector('.lane #strip') === null")


def test_sixty_entries_of_which_six_are_wrong_take_at_most_forty_keys(reader: Reader) -> None:
    page = reader.open("sixty").page
    assert "60 entries" in page.locator(".sub").inner_text()
    true = {
        "level five": "level nine",
        "level two": "level ten",
        "level fifteen": "level five",
        "level seven": "12",
        "head turn": "nt",
        "ignored": "came",
    }
    wanted = {"12": "level twelve", "nt": "neck twitch", "came": "came"}
    met = []
    while page.locator("[data-rows=check] .row").count():
        words = reader.now
        met.append(words)
        right = true.get(words) if len(met) <= 60 else None
        offers = page.locator(".row.now [data-offer]").all_inner_texts()
        place = next((n for n, text in enumerate(offers, 1) if text.endswith(right or "-")), None)
        if right is None:
            reader.changing("Enter")
        elif place is not None:
            reader.changing(str(place))
        else:
            reader.press("/")
            reader.typed(right)
            chosen = "document.querySelector('.choices [aria-selected=true]')?.innerText"
            until(page, f"{chosen} === '{wanted[right]}'")
            reader.changing("Enter")
    assert set(true) <= set(met)
    assert len(met) == 10
    print(f"{reader.presses} keys, and one more for each entry that is listened to")
    assert reader.presses + len(met) <= 40
    assert page.locator(".row.check").count() == 0
    assert page.locator(".row.now").count() == 1  # and the last one read is where we stay


def test_what_was_typed_for_one_card_is_never_over_another(reader: Reader) -> None:
    page = reader.page
    player = EveningPlayer(page)
    player.open(f"{reader.address}/evening?dog=Wren", 21)
    first = page.locator(".asked").inner_text()
    player.press("/")
    page.keyboard.type("no such words")
    until(page, "document.querySelector('.card .now').innerText === ''")  # it was heard
    player.press("Enter")
    page.wait_for_selector("#said.bad p")
    page.get_by_role("button", name="Later").click()
    assert page.locator(".asked").inner_text() != first
    assert page.locator("#said").inner_text() == ""
    assert page.locator(".slot input").count() == 0
    player.press("ArrowLeft")  # where a click was, the keys are the card's again
    assert page.locator(".asked").inner_text() == first
    player.press("/")
    assert page.locator(".slot input").input_value() == "no such words"
    reader.refused()


def test_an_evening_is_gone_through_by_keys_and_what_a_stop_hangs_on_is_heard_first(
    newcomer: Reader,
) -> None:
    """Twenty entries of which two are wrong, and one that a stop may hang on. The bench
    `evening_keys` does the same with sixty over three sessions."""
    page = newcomer.page
    page.add_init_script(SLOWLY)  # the first card plays by itself
    player = EveningPlayer(page)
    player.open(f"{newcomer.address}/evening?dog=Wren", 21)
    assert page.locator(".asked").inner_text() == "yelped"
    player.see()
    player.press("Enter")
    assert "hear it once to its end" in newcomer.said
    confirm = page.locator("[data-act=confirm]")
    keys = "document.querySelector('.card .now').innerText"
    until(page, f"{keys} === 'Playing. You can decide when you have heard its end.'")
    assert page.locator("[data-act=play]").inner_text() == "Stop Space"
    assert page.locator("#stop").is_hidden()  # one Stop is enough
    assert confirm.get_attribute("aria-disabled") == "true"
    page.keyboard.down("Enter")
    page.keyboard.down("Enter")  # held: no more than one press
    page.keyboard.up("Enter")
    assert page.evaluate("!document.getElementById('stop').hidden")  # it still plays
    page.evaluate("document.getElementById('player').playbackRate = 1")
    until(page, "document.getElementById('stop').hidden")
    assert player.left == 21
    until(page, f"{keys} === ''")
    assert page.locator("[data-act=play]").inner_text() == "Play Space"
    assert confirm.get_attribute("aria-disabled") == "false"
    player.decide("1")  # it was a head turn
    seen = player.play()
    assert sorted(set(seen)) == ["level five", "level seven", "level three"]
    assert len(seen) == 20
    assert player.presses == 2 + 18 + 1 + len("/12") + 1
    assert "Nothing is left to check" in page.locator(".none").inner_text()
    for left in (1, 2):
        player.press("u")
        until(page, f"{LEFT} === {left}")
    page.reload()  # where one was is kept
    until(page, f"{LEFT} === 2")
    assert page.evaluate("document.documentElement.dataset.card").startswith("entry ")


def test_typed_words_that_are_not_understood_are_never_turned_into_others(reader: Reader) -> None:
    page = reader.open("guess").go_to("level nineteen").page
    reader.press("/")
    with page.expect_response(lambda reply: "session+fern" in reply.url):
        page.keyboard.type("start session fern")
    reader.press("Enter")
    page.wait_for_selector("#said.bad p")
    assert "'fern' stands where a name belongs" in reader.said
    until(page, "!document.querySelector('.choices li')")  # those of fewer words are gone
    # a word half typed is a guess too: "thumb of" is no more "thumb off" than a slip is
    for typed, meant in (("thumb of", "thumb off"), ("levle nine", "level nine")):
        page.locator(".row.now input").fill("")
        asked = re.compile(f"text={typed.replace(' ', '.')}&")
        with page.expect_response(asked):
            page.keyboard.type(typed)
        # the choices of the words before may still be there
        shown = "document.querySelector('.row.now .choices').innerText"
        until(page, f"{shown}.includes('{meant.split()[0]}')")
        assert page.locator(".choices [aria-selected=true]").count() == 0
        assert "Not a note as typed. Choose one" in page.locator(".row.now .hint").inner_text()
        with page.expect_response(lambda reply: reply.request.method == "POST") as answer:
            reader.press("Enter")
        assert answer.value.status == 422
        # the sentence offers none where each word is one of its own, as "of" is
        told = f"mean '{meant}'?" if meant == "level nine" else "I cannot read 'thumb of' as"
        until(page, f"""document.getElementById('said').innerText.includes("{told}")""")
    reader.press("ArrowDown")
    reader.changing("Enter")
    assert "cont. 9" in reader.rep(1)
    reader.refused()


def test_a_level_above_the_top_of_the_collar_is_not_kept_by_enter_alone(
    reader: Reader,
) -> None:
    page = reader.open("above").go_to("level nineteen").page
    reader.press("/")
    page.keyboard.type("level 30")
    marked = "document.querySelector('.choices [aria-selected=true]')?.innerText"
    until(page, f"{marked} === 'level thirty'")
    with page.expect_response(lambda reply: reply.request.method == "POST") as answer:
        reader.press("Enter")
    assert answer.value.status == 422
    until(page, "document.querySelector('.row.now .hint').innerText.includes('with Down')")
    assert "Level 30 is above the top of Bracken's collar, 20" in reader.said
    assert page.locator(".choices [aria-selected=true]").count() == 0
    reader.press("ArrowDown")
    reader.changing("Enter")
    assert "cont. 30" in reader.rep(1)
    reader.refused()


def test_a_level_above_the_top_that_was_heard_is_not_confirmed_by_enter_but_chosen(
    reader: Reader,
) -> None:
    page = reader.open("heard above").go_to("here level thirty came").page
    with page.expect_response(lambda reply: reply.request.method == "POST") as answer:
        reader.press("Enter")
    assert answer.value.status == 422
    until(page, "document.querySelector('.row.now .hint')?.innerText.includes('with Down')")
    assert "Level 30 is above the top of Bracken's collar, 20" in reader.said
    assert page.locator(".row.check").count() == 1
    reader.press("ArrowDown")
    reader.changing("Enter")
    assert page.locator(".row.check").count() == 0
    reader.refused()


def test_retype_begins_with_what_the_entry_says_and_what_is_on_offer_for_it(
    reader: Reader,
) -> None:
    page = reader.open("again").go_to("level nineteen").page
    reader.press("/")
    assert page.locator(".slot input").input_value() == "level nineteen"
    page.wait_for_selector(".slot .choices li")
    assert "level nine" in page.locator(".slot .choices li").all_inner_texts()
    assert page.locator(".slot .hint").inner_text() == ""
    page.keyboard.press("End")
    page.keyboard.type(" ear flick")
    until(
        page,
        "document.querySelector('.choices [aria-selected=true]')?.innerText"
        " === 'level nineteen ear flick'",
    )
    reader.changing("Enter")
    assert "cont. 19" in reader.rep(1)


def test_a_guess_at_talk_is_not_written_for_who_retypes_it(reader: Reader) -> None:
    page = reader.open("guessed").page
    for _ in range(4):
        if reader.now != "whined retrieve":
            reader.press("ArrowDown")
    assert reader.now == "whined retrieve"
    reader.press("/")
    assert page.locator(".slot input").input_value() == ""


def test_enter_takes_only_what_was_shown_for_the_words_typed(reader: Reader) -> None:
    page = reader.open("late").go_to("level nineteen").page
    page.evaluate(
        """() => {
            const send = window.fetch;
            window.held = new Promise(resolve => { window.release = resolve; });
            window.fetch = async (...asked) => {
                if (String(asked[0]).includes("/readings")) await window.held;
                return send(...asked);
            };
        }"""
    )
    reader.press("/")
    page.keyboard.type("9")  # what it may become has not come yet
    reader.press("Enter")
    page.wait_for_selector("#said.bad p")
    until(page, IDLE)
    deadline = time.monotonic() + PATIENCE_S
    while not reader.wrong and time.monotonic() < deadline:
        page.wait_for_timeout(20)  # lets the browser tell what it noted
    assert reader.wrong
    reader.refused()
    page.evaluate("window.release()")
    page.wait_for_selector(".choices [aria-selected=true]")
    reader.changing("Enter")
    assert "cont. 9" in reader.rep(1)


def test_everything_can_be_done_by_keys_alone(reader: Reader) -> None:
    page = reader.open("keys").page
    first = reader.now
    reader.press("ArrowDown")
    assert reader.now != first
    reader.press("ArrowUp")
    assert reader.now == first
    reader.press("/")
    page.keyboard.type("levle")
    reader.press("Escape")
    assert reader.now == first
    reader.press("a")
    page.keyboard.type("here level two came")
    page.wait_for_selector("#add .choices [aria-selected=true]")
    reader.changing("Enter")
    assert reader.now == "here level two came"
    reader.press("ArrowUp")  # the entry was added after the one at hand, which is the last
    assert reader.now == "good girl come on"
    reader.press("Enter")  # pressed once too often, it makes no record of other talk
    assert "was not understood" in reader.said
    assert page.locator(".row.not-understood").count() == 1
    reader.press("Tab", "Tab")
    assert page.evaluate("document.activeElement.dataset.tool") in ("retype", "void")
    reader.press("?")
    assert page.locator("#keys").is_visible()
    last, close = (page.locator(f"#keys {one}").last.bounding_box() for one in ("kbd", "button"))
    assert last is not None
    assert close is not None
    assert last["y"] + last["height"] < close["y"]
    reader.press("Escape")
    assert page.locator("#keys").is_hidden()


def test_a_guess_at_talk_is_taken_only_by_who_has_heard_it(reader: Reader) -> None:
    """One click on words that nobody said would be a record of a sign that no dog showed."""
    page = reader.open("talk").page
    page.locator(".row.not-understood .pick").click()
    row = page.locator(".row.not-understood.now")
    assert "probably talk" in row.locator(".about").inner_text()
    take = row.locator('[data-tool="confirm"]')
    assert take.inner_text() == "Take this guess"
    assert take.get_attribute("aria-disabled") == "true"
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.url) if "api/session" in asked.url else None)
    take.click(force=True)  # plays it instead
    assert "hear it once to its end" in reader.said
    assert sent == []
    until(page, """document.querySelector('.now [data-tool="confirm"][aria-disabled="false"]')""")
    page.reload()
    page.locator(".row.not-understood .pick").click()
    assert take.get_attribute("aria-disabled") == "false"
    with page.expect_response(lambda reply: reply.request.method == "POST") as answer:
        take.click()
    assert answer.value.ok
    until(page, "!document.querySelector('.row.not-understood')")


@pytest.mark.parametrize("says_so", [True, False])
def test_a_held_key_confirms_one_entry_and_no_more(reader: Reader, says_so: bool) -> None:
    """Some keyboards and remote desktops repeat a key without saying that it is one."""
    page = reader.open(f"held {says_so}").page
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.method) if asked.method == "POST" else None)
    to_check = page.locator(".row.check").count()

    def hold(key: str) -> None:
        for _ in range(5):
            if says_so:
                page.keyboard.down(key)  # a second one without an up is a repeat
            else:
                page.evaluate(
                    """key => document.activeElement.dispatchEvent(new KeyboardEvent('keydown',
                    {key, code: key, bubbles: true, cancelable: true}))""",
                    key,
                )
            until(page, READY)

    hold("Enter")
    assert sent == ["POST"]
    assert page.locator(".row.check").count() == to_check - 1
    page.keyboard.up("Enter")
    reader.changing("Enter")  # pressed anew it confirms the next
    assert page.locator(".row.check").count() == to_check - 2
    hold("Delete")
    assert sent == ["POST"] * 3


def test_enter_held_in_a_field_keeps_what_is_typed_and_no_more(reader: Reader) -> None:
    page = reader.open("field").go_to("level nineteen").page
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.method) if asked.method == "POST" else None)
    to_check = page.locator(".row.check").count()
    reader.press("/")
    page.keyboard.type("level nine")
    page.keyboard.down("Enter")
    page.keyboard.down("Enter")  # while the answer is on its way, and then again and again
    for _ in range(4):
        until(page, READY)
        page.keyboard.down("Enter")
    page.keyboard.up("Enter")
    until(page, READY)
    assert page.locator(".row.check").count() == to_check - 1
    assert sent == ["POST"]


def test_an_entry_out_of_sight_is_shown_before_it_is_confirmed(reader: Reader) -> None:
    page = reader.open("unseen").page
    budget = page.locator("[data-part=budget]")  # of the rows not all are drawn
    to_check = int(budget.inner_text().split()[0])
    seen = """(() => {
        const box = document.querySelector('.row.now .words')?.getBoundingClientRect();
        return Boolean(box) && box.top >= 0 && box.bottom <= innerHeight; })()"""
    assert page.evaluate(seen)
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    drawn(page)
    assert not page.evaluate(seen)
    reader.press("Enter")
    assert "out of sight" in reader.said
    drawn(page)
    assert int(budget.inner_text().split()[0]) == to_check
    assert page.evaluate(seen)
    reader.changing("Enter")
    assert int(budget.inner_text().split()[0]) == to_check - 1


def test_two_tabs_do_not_overwrite_each_other(reader: Reader) -> None:
    page = reader.open("two").page
    other = Reader(page.context.new_page(), reader.address)
    other.page.goto(page.url)
    other.page.wait_for_selector(".row.now")
    entry = reader.now
    reader.changing("Enter")
    assert other.now == entry
    with other.page.expect_response(lambda reply: reply.request.method == "POST") as answer:
        other.press("Delete")
    assert answer.value.status == 409
    other.page.wait_for_selector("#said.bad p")
    assert f"now reads '{entry}' (Anna), so nothing was done" in other.said
    until(other.page, "document.querySelectorAll('.row.check').length === 1")


def test_a_field_of_a_dog_is_saved_and_every_other_stays(reader: Reader, folder: Path) -> None:
    page = reader.page
    page.goto(f"{reader.address}/dogs/Fern")
    page.get_by_label("Never above level").fill("7")
    page.get_by_label("Highest level").fill("20")
    page.get_by_role("button", name="Save the profile").click()
    page.wait_for_selector("#said p")
    page.get_by_label("Chip number").fill("")  # and what is emptied is empty
    with page.expect_response(lambda reply: reply.url.endswith("/api/dog")) as answer:
        page.get_by_role("button", name="Save the profile").click()
    assert answer.value.ok, answer.value.text()
    with Log.open(folder, now=lambda: NOW) as log:
        now = log.roster().dog("Fern")
    unit = FULL.transmitter.model_copy(update={"top": 20})
    new = {"ceiling": 7, "identification": "", "transmitter": unit}
    assert now == FULL.model_copy(update=new)


def test_a_new_dog_is_kept_and_may_be_changed_at_once(reader: Reader) -> None:
    page = reader.page
    page.goto(f"{reader.address}/new-dog")
    page.get_by_label("Name, as it is called").fill("Tansy")
    page.get_by_label("Cue words").fill("here, hup")
    page.get_by_label("What a cue asks for").fill("hup = sit; here = come, now")
    for ceiling in ("5", "6"):
        page.get_by_label("Never above level").fill(ceiling)
        with page.expect_response(lambda reply: reply.url.endswith("/api/dog")) as answer:
            page.get_by_role("button", name="Save the profile").click()
        assert answer.value.ok, answer.value.text()
        until(page, "document.querySelector('h1').textContent === 'Tansy'")
    page.reload()
    assert page.get_by_label("Never above level").input_value() == "6"
    said = page.get_by_label("What a cue asks for").input_value()
    assert said == "hup = sit; here = come, now"
    page.goto(f"{reader.address}/dogs")
    row = page.get_by_role("row").filter(has_text="Tansy").inner_text()
    assert "here (come, now), hup (sit)" in row


def test_a_matter_is_closed_by_name_and_with_who_was_asked_and_opened_again(
    reader: Reader, folder: Path
) -> None:
    page = reader.open("snapped").page
    page.goto(f"{reader.address}/matters")
    assert axe.Axe().run(page).response["violations"] == []
    matter = page.get_by_role("listitem").filter(has_text="Snapped on 12 Apr 2026")
    assert "STOP" in matter.inner_text()
    button = matter.get_by_role("button", name="Close it, as Anna")
    matter.get_by_label("Why").fill("left alone since")
    button.click()  # who was asked is missing, so the browser asks for it
    until(page, "document.activeElement.name === 'consulted'")
    with Log.open(folder, now=lambda: NOW) as log:
        assert not log.matter_events()
    matter.get_by_label("Who was asked").fill("Dr Fern, the vet")
    with page.expect_response(lambda reply: reply.url.endswith("/api/matter")) as answer:
        page.keyboard.press("Enter")
    assert answer.value.ok, answer.value.text()
    matter.get_by_role("button", name="Open it again, as Anna").wait_for()
    page.wait_for_load_state()  # with its script
    assert "closed by Anna" in matter.inner_text()
    assert "left alone since (consulted: Dr Fern, the vet)" in matter.inner_text()
    assert "STOP" not in matter.inner_text()
    matter.get_by_label("Why").fill("it growled at home")
    with page.expect_response(lambda reply: reply.url.endswith("/api/matter")) as answer:
        page.keyboard.press("Enter")
    assert answer.value.ok, answer.value.text()
    button.wait_for()
    page.wait_for_load_state()
    assert "opened again by Anna: it growled at home" in matter.inner_text()
    matter.get_by_role("link", name="Its session").click()
    page.wait_for_selector(".row")
    assert "snapped" in page.content()
    with Log.open(folder, now=lambda: NOW) as log:
        assert [one.do for one in log.matter_events()] == ["close", "reopen"]


OF_COLOUR = {"runOnly": ["color-contrast", "link-in-text-block"]}
"""The rules that ask for more than the page's tree: the dark scheme is other colours, no more."""


def test_axe_finds_nothing_and_no_colour_wrong_in_the_dark(
    chromium: Browser, served: Served
) -> None:
    reader = enter(chromium, served).open("axe")
    page, address = reader.page, served.address
    found: dict[str, list[str]] = {}
    session = page.url
    papers = [f"{address}/dogs/Bracken/progress", f"{address}/kennel", f"{address}/evening"]
    papers += [f"{address}/watch", f"{address}/lock"]
    for at in (session, f"{address}/", f"{address}/dogs", f"{address}/dogs/Bracken", *papers):
        page.emulate_media(color_scheme="light")
        go(page, at)
        if at == session:
            page.locator(".strip summary, [data-group] summary").first.click()
            page.wait_for_selector(".moment")
            reader.press("/")
            page.wait_for_selector(".choices li")
        results = {"light": axe.Axe().run(page).response}
        page.emulate_media(color_scheme="dark")
        drawn(page)
        results["dark"] = axe.Axe().run(page, options=OF_COLOUR).response
        assert len(results["light"]["passes"]) > 10
        assert results["dark"]["passes"]
        found |= {
            f"{at}, {scheme}: {one['id']}": [node["html"] for node in one["nodes"]]
            for scheme, result in results.items()
            for one in result["violations"]
        }
    assert found == {}
    page.context.close()


def test_a_locked_log_is_opened_by_its_passphrase(chromium: Browser, tmp_path: Path) -> None:
    """By a form that a browser itself sends, and whose origin it has to say."""
    folder, words = tmp_path / "log", "four plain words here"
    Log.open(folder, now=lambda: NOW).close()
    lock_whole_log(folder, words, lambda done, total: None)
    with serving(folder) as served:
        page = chromium.new_page()
        page.goto(served.once)
        assert page.url == f"{served.address}/unlock"
        assert axe.Axe().run(page).response["violations"] == []
        in_the_field = "document.activeElement?.type === 'password'"
        until(page, in_the_field)
        page.keyboard.type("four other words")
        page.keyboard.press("Enter")
        page.get_by_role("alert").wait_for()
        assert "does not open" in page.get_by_role("alert").inner_text()
        until(page, in_the_field)
        page.keyboard.type(words)
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="Your dogs").wait_for()  # the first step of an empty log
        assert page.url == f"{served.address}/start/dogs"
        page.close()
    assert words not in served.printed + (folder / "said.txt").read_text()


def test_nothing_runs_out_of_a_narrow_page(chromium: Browser, served: Served) -> None:
    narrow = {"width": 360, "height": 740}
    page, address = enter(chromium, served, viewport=narrow).open("axe").page, served.address
    papers = (f"{address}/dogs/Bracken/progress", f"{address}/kennel", f"{address}/evening")
    for at in (page.url, f"{address}/", f"{address}/dogs/Bracken", *papers, f"{address}/lock"):
        go(page, at)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        page.evaluate(SPACE)  # nor with the spacing of WCAG 2.2, 1.4.12, and nothing is cut off
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        assert page.evaluate(CUT) == []
    button = page.get_by_role("button", name="Lock the log")
    page.set_viewport_size({"width": 360, "height": 400})
    drawn(page)
    button.focus()
    page.evaluate("import('/static/talk.js').then(talk => talk.tell(['one', 'two', 'three']))")
    page.wait_for_selector("#said:not(:empty)")
    seen = """() => document.activeElement.getBoundingClientRect().bottom
        <= document.getElementById("said").getBoundingClientRect().top"""
    assert page.evaluate(seen)  # what has the keys is not covered: 2.4.11
    page.context.close()


def test_a_session_opens_from_the_pictures_with_the_keyboard_and_paper_has_no_link(
    reader: Reader,
) -> None:
    page = reader.open("keys").page
    page.goto(f"{reader.address}/dogs/Bracken/progress")
    shown = page.locator(".picture:visible a")
    last = shown.last
    assert shown.count() == len(page.locator(".picture.wide a").all())
    last.scroll_into_view_if_needed()
    value = page.locator("p.value")
    for one in (last, value):
        box = one.bounding_box()
        assert box
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=5)
        drawn(page)
        assert value.is_visible()  # it can be pointed at too: WCAG 2.2, 1.4.13
    page.mouse.move(2, 2)
    drawn(page)
    assert value.count() == 0
    last.focus()
    assert page.evaluate("document.activeElement.matches('.picture a:focus')")
    assert value.is_visible()
    page.keyboard.press("Escape")
    assert value.count() == 0
    assert "unaided" in (last.get_attribute("aria-label") or "")
    href = last.get_attribute("href")
    page.keyboard.press("Enter")
    page.wait_for_selector(".row.now")
    assert page.url == f"{reader.address}{href}"
    page.go_back()
    page.emulate_media(media="print")
    assert page.locator(".picture.wide svg").first.is_visible()
    assert page.locator(".picture a:visible").count() == 0


def test_a_thumb_sees_which_narrow_column_it_met_before_it_leads_anywhere(
    chromium: Browser, served: Served
) -> None:
    narrow = {"width": 390, "height": 740}
    page = enter(chromium, served, viewport=narrow, has_touch=True).open("axe").page
    page.goto(f"{served.address}/dogs/Bracken/progress")
    at, column = page.url, page.locator(".picture:visible svg a").last
    column.scroll_into_view_if_needed()
    box = column.bounding_box()
    assert box
    assert box["width"] < 44
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + 9)
    way = page.locator("p.value a")
    way.wait_for()
    assert (page.url, way.inner_text()) == (at, column.get_attribute("aria-label"))
    there = way.bounding_box()
    assert there
    assert there["height"] >= 44
    href = column.get_attribute("href")
    way.tap()
    page.wait_for_selector(".row.now")
    assert page.url == f"{served.address}{href}"
    page.context.close()
