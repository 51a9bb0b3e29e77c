"""The pages: what is asked for, from the desk, as HTML or JSON.

Every handler is plain code that runs in a thread of its own; the guard stands around them all.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote, urlencode

from markupsafe import Markup, escape
from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from voicelog.app.hearing_process import HearingProcess
from voicelog.app.integrity import set_aside_lines
from voicelog.app.listening import LiveProcess
from voicelog.app.phone_process import PhoneProcess
from voicelog.app.rehear import HeardAgain
from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.errors import (
    BadRequestError,
    NoSoundError,
)
from voicelog.app.review.evening import MOST, evening_of
from voicelog.app.review.review_service import EditResult, ReviewService
from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.app.watching import WatchingProcess
from voicelog.audio.resampling import RATE
from voicelog.model import VoicelogError
from voicelog.report.deriving_words import page_waits_words
from voicelog.report.finding_groups import FindingGroup, finding_groups
from voicelog.report.rep_plot_svg import plot_svg
from voicelog.report.review_words import (
    DONE,
    NO_DOG_NAMED,
    NO_SESSION_HEARD,
    NO_SUCH_SESSION,
    NOTHING_LOGGED,
    QUEUE,
)
from voicelog.report.state_words import NOT_UNDERSTOOD
from voicelog.report.wording.matters import NO_MATTERS
from voicelog.report.words import clean
from voicelog.store import SessionFilter
from voicelog.web.accuracy_page import AccuracyPage
from voicelog.web.clips import LONGEST_S, Clips
from voicelog.web.dogs import alike, dog_with_version, keep_dog, roster_with_sessions
from voicelog.web.entrance import Entrance
from voicelog.web.evening_page import Heard, act_on_card, shown_queue
from voicelog.web.first_run import FIRST_STEP, is_first_run
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk
from voicelog.web.job_routes import job_routes
from voicelog.web.lock_keeper import LockKeeper
from voicelog.web.long_work import LongWork
from voicelog.web.matters import act_on_matter, shown_matters
from voicelog.web.papers import PAPERS_CSS, handover_page, kennel_page, plan_page, progress_page
from voicelog.web.played_sound import PlayedSound
from voicelog.web.responses import fragment, page, path_step
from voicelog.web.routing import ANSWERS_TO_ERRORS, route
from voicelog.web.security import Authenticator, SecurityMiddleware
from voicelog.web.session_state import SessionState, SessionStates, session_state

__all__ = ["BUDGET", "make_app"]

BUDGET = 4
"""Entries to check in a session of an evening, unless set otherwise."""
LEAF = 50
"""Sessions on one leaf of the list."""
_WAV_HEAD = 44
"""Bytes of a WAV file before its sound."""
_HEARD_S = LONGEST_S - 1.5
"""How much of a long entry has to be heard, s: what one clip has room for with a little before."""
STATIC = Path(__file__).with_name("static")
_YEAR_S = 365 * 24 * 3600
_OWN = ("leaf", "from")
_NOT_UNDER_MORE = frozenset(
    ("", "session", "evening", "add", "demo", "live", "dogs", "new-dog", "more")
)
"""Where paths begin that are not reached by way of More: all that the phone's bar shows itself."""
"""What the address of the list holds beside what narrows it."""
_WHO, _BUDGET = "voicelog_who", "voicelog_budget"


@dataclass(frozen=True, slots=True)
class _Reviewer:
    """Who reads at this browser, and how much of an evening."""

    who: str
    budget: int
    named: bool
    """Whether a person gave the name; else it is that of the account on this computer."""


def make_app(
    service: ReviewService,
    *,
    hosts: Collection[str],
    token: str,
    who: str,
    budget: int = BUDGET,
    lock: Authenticator | None = None,
    keeper: LockKeeper | None = None,
    close: Callable[[], None] = lambda: None,
    named: bool = True,
) -> Starlette:
    """The page of one log, see `SecurityMiddleware` for `hosts`, `token` and `lock`.

    `who` and `budget` hold until a browser says otherwise; where nobody gave `who` (not `named`),
    the only handler on the roster is meant, and where there is none or several the page asks.
    `close` ends what serves it; `keeper` keeps what is to be changed of the log's lock after that.
    Close `app.state.clips`, `app.state.hearing` and `app.state.watching` in the end.
    """
    secure = lock is not None and lock.code is not None
    browsers = lock.cookie if lock else ""
    site = _Handlers(service, token, _Reviewer(who, budget, named), secure, browsers)
    hearing = HearingProcess(service.log.folder)
    live = LiveProcess(service.log.folder)
    watching = WatchingProcess(service.log.folder)
    desk = JobDesk(
        service=service,
        page=site.page,
        who=lambda request: site.reader(request).who,
        hearing=hearing,
        live=live,
        watching=watching,
        phone=PhoneProcess(service.log.folder),
        keeper=keeper or LockKeeper(service.log.folder),
        work=LongWork(),
        heard_again=HeardAgain(),
        close=close,
    )
    entrance = Entrance(lock)
    app = Starlette(
        routes=[
            *job_routes(desk),
            route("/", site.sessions),
            route("/session/{key}", site.session),
            route("/dogs", site.dogs),
            route("/dogs/{name:path}/progress", site.progress),
            route("/dogs/{name:path}/plan", site.plan),
            route("/dogs/{name:path}/before", site.before),
            route("/dogs/{name:path}", site.dog),  # a name may have a slash in it
            route("/new-dog", site.dog),
            route("/progress", site.progress_of),
            route("/plan", site.plans),
            route("/kennel", site.kennel),
            route("/matters", site.matters),
            route("/evening", site.evening),
            route("/api/evening", site.queue),
            route("/api/evening/{key}", site.act_on_card, "POST"),
            route("/learn", site.learn),
            route("/papers.css", site.papers_css),
            *entrance.routes(),
            route("/sound/{recording}.wav", site.sound),
            route("/api/strip/{recording}", site.strip),
            route("/api/played/{recording}", site.played, "POST"),
            route("/api/session/{key}", site.session_part, "GET"),
            route("/api/session/{key}", site.change, "POST"),
            route("/api/session/{key}/readings", site.readings),
            route("/api/session/{key}/plot", site.plot),
            route("/api/session/{key}/findings", site.findings),
            route("/api/history/{recording}/{entry}", site.history),
            route("/api/dog", site.keep_dog, "POST"),
            route("/api/matter", site.act_on_matter, "POST"),
            route("/api/alike", site.alike, "POST"),
            route("/api/prefs", site.prefs, "POST"),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        middleware=[Middleware(SecurityMiddleware, hosts=hosts, token=token, lock=lock)],
        exception_handlers=ANSWERS_TO_ERRORS,
    )
    app.state.clips, app.state.hearing, app.state.watching = site.clips, hearing, watching
    return app


class _Handlers:
    """The handlers, with what they share."""

    def __init__(
        self, service: ReviewService, token: str, usual: _Reviewer, secure: bool, browsers: str
    ) -> None:
        self.service, self.token, self.secure = service, token, secure
        self.usual = usual
        self.browsers = browsers  # the cookie that tells one browser from another
        self.heard = PlayedSound()
        self.clips = Clips(service.log)
        self.states = SessionStates()
        self.learning = AccuracyPage(service)

    # --- pages -----------------------------------------------------------------------

    def sessions(self, request: Request) -> Response:
        if is_first_run(self.service) and "from" not in request.query_params:
            return RedirectResponse(FIRST_STEP, status_code=303)
        asked = request.query_params
        wanted = _wanted(request)
        leaf = max(1, _whole(asked.get("leaf"), 1))
        found = self.service.session_catalog.headings(wanted, limit=LEAF, skip=(leaf - 1) * LEAF)
        narrowed = {name: value for name, value in asked.items() if name not in _OWN and value}

        def leaf_at(number: int) -> str:
            return f"/?{urlencode(narrowed | {'leaf': str(number)})}"

        last = (leaf - 1) * LEAF + len(found.rows)
        return self.page(
            request,
            "sessions.html",
            wanted=wanted,
            rows=found.rows,
            total=found.total,
            behind=self.service.behind,
            asides=set_aside_lines(self.service.session_catalog),
            dogs=self.service.session_catalog.dogs(),
            first=(leaf - 1) * LEAF + 1,
            last=last,
            newer=leaf_at(leaf - 1) if leaf > 1 else None,
            older=leaf_at(leaf + 1) if last < found.total else None,
            empty=NO_SUCH_SESSION if narrowed else NOTHING_LOGGED,
            narrowed=bool(narrowed),
        )

    def session(self, request: Request) -> Response:
        view = self.service.view(request.path_params["key"])
        reader = self.reader(request)
        values, state = self.shown(view, reader)
        parts = {name: Markup(html) for name, html in state.parts.items()}
        heard = [name for name, row in view.entries.items() if self.is_open(request, view, row)]
        return self.page(
            request, "session.html", **values, parts=parts, heard=heard, state=_json(state.whole())
        )

    def dogs(self, request: Request) -> Response:
        dogs, handlers = roster_with_sessions(self.service)
        return self.page(request, "dogs.html", dogs=dogs, handlers=handlers)

    def dog(self, request: Request) -> Response:
        name = request.path_params.get("name")
        dogs, _ = roster_with_sessions(self.service)
        dog, sessions, was = dog_with_version(self.service, dogs, name)
        here = f"/dogs/{path_step(dog.name)}"
        links = [("Before a session", f"{here}/before"), ("Next session", f"{here}/plan")]
        if sessions:
            links.insert(0, ("Progress", f"{here}/progress"))
            links.append(("Owner's report", f"{here}/owner"))
        return self.page(request, "dog.html", dog=dog, sessions=sessions, was=was, links=links)

    def progress(self, request: Request) -> Response:
        name = request.path_params["name"]
        article = progress_page(self.service, name)
        return self.page(request, "paper.html", title=f"{clean(name)} over weeks", article=article)

    def plan(self, request: Request) -> Response:
        name = request.path_params["name"]
        article = plan_page(self.service, name)
        return self.page(request, "paper.html", title=f"{clean(name)} next", article=article)

    def plans(self, request: Request) -> Response:
        dogs = [dog for dog, _ in roster_with_sessions(self.service)[0]]
        if len(dogs) == 1:
            return RedirectResponse(f"/dogs/{path_step(dogs[0].name)}/plan", status_code=303)
        return self.page(request, "plans.html", dogs=dogs)

    def progress_of(self, request: Request) -> Response:
        dogs = [dog for dog in self.service.session_catalog.dogs() if dog]
        if len(dogs) == 1:
            return RedirectResponse(f"/dogs/{path_step(dogs[0])}/progress", status_code=303)
        return self.page(request, "progress_of.html", dogs=dogs)

    def before(self, request: Request) -> Response:
        name = request.path_params["name"]
        article = handover_page(self.service, name)
        title = f"Before you work {clean(name)}"
        return self.page(request, "paper.html", title=title, article=article)

    def kennel(self, request: Request) -> Response:
        article = kennel_page(self.service)
        lead = None if self.service.log.roster().dogs else ("Add a dog", "/new-dog")
        return self.page(request, "paper.html", title="Kennel", article=article, lead=lead)

    def matters(self, request: Request) -> Response:
        waiting = self.service.left_by_another_program()
        dogs = [] if waiting else shown_matters(self.service)
        nothing = page_waits_words(len(waiting)) if waiting else NO_MATTERS
        return self.page(request, "matters.html", dogs=dogs, nothing=nothing)

    def evening(self, request: Request) -> Response:
        dog = request.query_params.get("dog", "")
        empty = not self.service.session_catalog.headings(SessionFilter(), limit=1).total
        return self.page(request, "evening.html", dog=dog, what=QUEUE, empty=empty)

    def queue(self, request: Request) -> Response:
        dog = request.query_params.get("dog") or None
        return JSONResponse({"ok": True} | shown_queue(self.service, dog, self.heard_by(request)))

    def act_on_card(self, request: Request) -> Response:
        deed = _parsed(EditRequest, request)
        key, who = request.path_params["key"], self.reader(request).who
        self.must_be_heard(request, key, deed)
        done = act_on_card(self.service, key, deed, who, self.heard_by(request))
        return JSONResponse({"ok": True} | done)

    def learn(self, request: Request) -> Response:
        return self.page(request, "learn.html", **self.learning.shown())

    def papers_css(self, request: Request) -> Response:
        return Response(PAPERS_CSS, media_type="text/css")

    # --- parts -----------------------------------------------------------------------

    def session_part(self, request: Request) -> Response:
        view = self.service.view(request.path_params["key"])
        return JSONResponse(
            {"ok": True, "key": view.head.key} | self.answer(view, self.reader(request), None)
        )

    def change(self, request: Request) -> Response:
        deed = _parsed(EditRequest, request)
        reader = self.reader(request)
        self.must_be_heard(request, request.path_params["key"], deed)
        done: EditResult = self.service.do(request.path_params["key"], deed, reader.who)
        return JSONResponse(
            {
                "ok": True,
                "key": done.key,
                "entry": done.entry,
                "changed": list(done.changed),
                "counts": list(done.counts),
                "done": DONE[deed.do],
            }
            | self.answer(done.view, reader, request.query_params.get("seen"))
        )

    def plot(self, request: Request) -> Response:
        view = self.service.view(request.path_params["key"])
        return JSONResponse({"ok": True, "html": _plot(view)})

    def findings(self, request: Request) -> Response:
        view = self.service.view(request.path_params["key"])
        asked = request.query_params.get("group")
        found = [one for one in _groups(view) if one.key == asked]
        sound = not self.silent(view)
        html = "".join(fragment("parts/group.html", group=one, sound=sound) for one in found)
        return JSONResponse({"ok": True, "html": html})

    def readings(self, request: Request) -> Response:
        asked = request.query_params
        found = self.service.complete(
            request.path_params["key"], asked.get("entry") or None, asked.get("text", "")[:400]
        )
        return JSONResponse({"ok": True, "readings": list(found.readings), "marked": found.marked})

    def history(self, request: Request) -> Response:
        params = request.path_params
        lines = self.service.history(params["recording"], params["entry"])
        return JSONResponse({"ok": True, "lines": list(lines)})

    def sound(self, request: Request) -> Response:
        recording = self.service.log.recording(request.path_params["recording"])
        if recording is None:
            raise NoSoundError("Found no such recording in the log; go back to the list.")
        asked = request.query_params
        start_s, end_s = _seconds(asked.get("from")), _seconds(asked.get("to"))
        wav = self.clips.wav(recording, start_s, end_s)
        reply, whole = _ranged(wav, request)
        if whole:
            lasts_s = (len(wav) - _WAV_HEAD) / (2 * RATE)
            self.heard.sent(self.browser(request), recording.id, start_s, end_s, lasts_s)
        return reply

    def played(self, request: Request) -> Response:
        fields = given(request)
        begin, end = (_seconds(text_of(fields, name)) for name in ("from", "to"))
        recording = request.path_params["recording"]
        heard = self.heard.played(self.browser(request), recording, begin, end)
        return JSONResponse({"ok": True, "heard": heard})

    def strip(self, request: Request) -> Response:
        recording = self.service.log.recording(request.path_params["recording"])
        if recording is None:
            raise NoSoundError("Found no such recording in the log; go back to the list.")
        levels, ended = self.clips.strip(recording)
        headers = {"x-whole": "1" if ended else "0"}
        return Response(levels, headers=headers, media_type="application/octet-stream")

    def keep_dog(self, request: Request) -> Response:
        return JSONResponse({"ok": True} | keep_dog(self.service, given(request)))

    def act_on_matter(self, request: Request) -> Response:
        reader = self.reader(request)
        if not reader.named:  # a matter is closed by a person, not by an account
            raise BadRequestError(
                "I do not know who you are, and a person's name is kept with this; "
                "type yours at the top of the page, at 'Your name?', and try again."
            )
        words = act_on_matter(self.service, given(request), reader.who)
        return JSONResponse({"ok": True, "words": words})

    def alike(self, request: Request) -> Response:
        return JSONResponse({"ok": True, "alike": alike(self.service, given(request))})

    def prefs(self, request: Request) -> Response:
        asked = given(request)
        who = clean(str(asked.get("who") or ""))[:60]
        budget = asked.get("budget")
        if not isinstance(budget, int) or not 1 <= budget <= MOST:
            raise BadRequestError(
                f"Found {budget!r} entries to check in a session, wanted a number from 1 to {MOST}."
            )
        reply = JSONResponse({"ok": True})
        for name, value in ((_WHO, quote(who, safe="")), (_BUDGET, str(budget))):
            if not value:
                continue  # no name was given: who it is stays as it was
            reply.set_cookie(
                name, value, max_age=_YEAR_S, httponly=True, samesite="strict",
                secure=self.secure,
            )  # fmt: skip
        return reply

    # --- within ----------------------------------------------------------------------

    def reader(self, request: Request) -> _Reviewer:
        who = clean(unquote(request.cookies.get(_WHO, "")))[:60]
        named = bool(who) or self.usual.named
        if not named:
            handlers = self.service.log.roster().handlers
            who, named = (handlers[0], True) if len(handlers) == 1 else ("", False)
        budget = _whole(request.cookies.get(_BUDGET), self.usual.budget)
        return _Reviewer(who or self.usual.who, min(MOST, max(1, budget)), named)

    def browser(self, request: Request) -> str:
        """What tells the browser that asks from every other that was let in."""
        return request.cookies.get(self.browsers, "")

    def heard_by(self, request: Request) -> Heard:
        """Says of a stretch of a recording whether it was heard in the browser that asks."""
        browser = self.browser(request)

        def heard(recording: str, from_s: float, to_s: float) -> bool:
            end_s = min(to_s, from_s + _HEARD_S)
            return self.heard.has_heard(browser, recording, from_s, end_s)

        return heard

    def is_open(self, request: Request, view: SessionView, row: EntryRow) -> bool:
        """Whether an entry is a guess at talk whose sound was heard in this browser."""
        at = row.entry
        heard = self.heard_by(request)
        return _is_guess(row) and heard(view.kept.id, at.start_s, at.end_s)

    def must_be_heard(self, request: Request, key: str, deed: EditRequest) -> None:
        """Raises BadRequestError where a guess at talk is to be taken that has sound and was not
        heard."""
        if deed.do != "confirm":
            return
        view = self.service.view(key)
        row = view.entries.get(deed.entry or "")
        if row is None or not _is_guess(row) or self.silent(view):
            return
        if not self.is_open(request, view, row):
            raise BadRequestError(
                "This is a guess at what is probably talk: play it once to its end, then take it "
                "or leave it."
            )

    def page(self, request: Request, name: str, **values: Any) -> Response:
        reader = self.reader(request)
        return page(
            name,
            token=self.token,
            who=reader.who,
            named=reader.named,
            budget=reader.budget,
            pages=(
                ("Sessions", "/"),
                ("Evening", "/evening"),
                ("Add", "/add"),
                ("Live", "/live"),
                ("Dogs", "/dogs"),
                ("Progress", "/progress"),
                ("Plan", "/plan"),
                ("Kennel", "/kennel"),
                ("Open matters", "/matters"),
                ("Accuracy", "/learn"),
                ("More", "/more"),
            ),
            here=request.url.path,
            under_more=request.url.path.split("/")[1] not in _NOT_UNDER_MORE,
            **values,
        )

    def silent(self, view: SessionView) -> str:
        """Why there is no sound of a session to play; empty where there is."""
        try:
            self.clips.open(view.kept)
        except VoicelogError as error:
            return str(error)
        return ""

    def answer(self, view: SessionView, reader: _Reviewer, seen: str | None) -> dict[str, Any]:
        """A session for a page that holds it as of the stamp `seen`, or not at all."""
        before = self.states.of(seen)
        _, state = self.shown(view, reader, before)
        if before is None:
            return {"whole": state.whole(), "parts": dict(state.parts)}
        return {"since": state.since(before)}

    def shown(
        self, view: SessionView, reader: _Reviewer, known: SessionState | None = None
    ) -> tuple[dict[str, Any], SessionState]:
        """What the templates of a session ask for, and the session as the page will hold it."""
        silent = self.silent(view)
        evening = evening_of(view, self.service.today(), reader.budget)
        dog = clean(view.session.dog.name) if view.session else ""
        values = {
            "view": view,
            "title": (dog or NO_DOG_NAMED) if view.session else NO_SESSION_HEARD,
            "sound": not silent,
            "silent": silent,
            "groups": _groups(view),
        }
        parts = {name: fragment(f"parts/{name}.html", **values) for name in _PARTS}
        parts["budget"] = str(escape(evening.told))
        state = session_state(view, evening, parts, known)
        self.states.keep(state)
        return values, state


_PARTS = ("head", "set", "questions", "findings", "counts", "levels", "next")


def _is_guess(row: EntryRow) -> bool:
    """Whether an entry is probably talk, with words guessed for it."""
    return row.word == NOT_UNDERSTOOD and bool(row.entry.phrases)


def _groups(view: SessionView) -> tuple[FindingGroup, ...]:
    return finding_groups(view.summary.notices) if view.summary else ()


def _json(data: dict[str, Any]) -> Markup:
    """Data as the text of a script that is none: no "<" can end it."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c"))


def _plot(view: SessionView) -> Markup:
    if view.summary is None or view.session is None:
        return Markup("")
    here = view.entries
    links = {
        rep.number: f"#e-{entry}"
        for rep in view.session.reps
        if (entry := next((one for one in rep.entries if one in here), None))
    }
    return Markup(plot_svg(view.summary, links=links))


def _wanted(request: Request) -> SessionFilter:
    asked = {name: value for name, value in request.query_params.items() if value}
    try:
        return SessionFilter.model_validate(
            {name: asked.get(name) for name in ("dog", "since", "until", "worst")}
            | {"check": "check" in asked, "text": asked.get("text", "")[:100]}
        )
    except ValueError as error:
        raise BadRequestError(
            "Found a filter of the list that is none, wanted dates and a finding's weight; "
            "choose again."
        ) from error


def _whole(text: str | None, usual: int) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 7 else usual


def _seconds(text: str | None) -> float:
    try:
        return min(1e6, float(text or "nan"))
    except ValueError:
        return float("nan")


def _parsed(kind: type[EditRequest], request: Request) -> EditRequest:
    try:
        return kind.model_validate(given(request))
    except ValidationError as error:
        first = error.errors()[0]
        where = " ".join(map(str, first["loc"])) or "the request"
        raise BadRequestError(
            f"Found a request that this page does not make ({where}: {first['msg']}); load the "
            "page again."
        ) from error


def _ranged(wav: bytes, request: Request) -> tuple[Response, bool]:
    """Sound, or the part of it that a player asks for, and whether that is up to its end."""
    headers = {"accept-ranges": "bytes"}
    asked = request.headers.get("range", "")
    unit, _, span = asked.partition("=")
    first, dash, last = span.partition("-")
    if unit == "bytes" and dash and first.isdigit() and int(first) < len(wav):
        end = min(int(last), len(wav) - 1) if last.isdigit() else len(wav) - 1
        headers["content-range"] = f"bytes {int(first)}-{end}/{len(wav)}"
        part = wav[int(first) : end + 1]
        reply = Response(part, status_code=206, headers=headers, media_type="audio/wav")
        return reply, end == len(wav) - 1
    return Response(wav, headers=headers, media_type="audio/wav"), True
