"""The papers over weeks as pages, each rep a link to where it can be heard."""

from __future__ import annotations

import re
from collections.abc import Sequence

from markupsafe import Markup

from voicelog.analysis.kennel import KENNEL_SESSIONS
from voicelog.analysis.kennel import kennel as look_at_kennel
from voicelog.analysis.session_digest import SessionDigest
from voicelog.app.review.errors import NotFoundError
from voicelog.app.review.review_service import ReviewService
from voicelog.model import Dog
from voicelog.report import html, kennel_paper, paper_html, plan_paper, progress_paper
from voicelog.report.paper import Paper, RepRef
from voicelog.safety.settings import Settings
from voicelog.safety.settings_file import load_settings
from voicelog.web.responses import path_step

__all__ = ["PAPERS_CSS", "kennel_page", "plan_page", "progress_page", "settings_of"]

SETTINGS_NAME = "settings.toml"
PAPERS_CSS = html.STYLE + paper_html.STYLE
"""The style of the papers, which comes before the page's own."""


def progress_page(desk: ReviewService, name: str) -> Markup:
    """How a dog goes on. Raises NotThereError for a dog without sessions."""
    found, dog = _dog(desk, name)
    if not found:
        raise NotFoundError(f"Found no session of '{name[:60]}' yet; add a recording first.")
    return _shown(
        progress_paper.build(found, dog, settings_of(desk).for_dog(dog.name), desk.today())
    )


def plan_page(desk: ReviewService, name: str) -> Markup:
    """A dog's next session."""
    found, dog = _dog(desk, name)
    return _shown(plan_paper.build(found, dog, settings_of(desk).for_dog(dog.name), desk.today()))


def kennel_page(desk: ReviewService) -> Markup:
    """How all dogs stand."""
    session_digests, rules = desk.session_catalog.recent(KENNEL_SESSIONS), settings_of(desk)
    criteria = {"": rules.for_dog("")} | {name: rules.for_dog(name) for name in rules.dog}
    found = look_at_kennel(session_digests, desk.log.roster().dogs, criteria, desk.today())
    return _shown(kennel_paper.build(found, session_digests, rules))


def _dog(desk: ReviewService, name: str) -> tuple[Sequence[SessionDigest], Dog]:
    session_digests = desk.session_catalog.session_digests(name)
    dog = desk.log.roster().dog(name)
    if dog is None and not session_digests:
        raise NotFoundError(f"Found no dog '{name[:60]}' in the log; go back to the dogs.")
    return session_digests, dog or Dog(name=name, transmitter=session_digests[-1].transmitter)


def settings_of(desk: ReviewService) -> Settings:
    """The settings of the log."""
    path = desk.log.folder / SETTINGS_NAME
    if not path.exists():
        return Settings()
    return load_settings(path, [dog.name for dog in desk.log.roster().dogs])


def _shown(paper: Paper) -> Markup:
    made = paper_html.article(paper, link=_link)
    # The page's policy takes no inline style; what is left out is a least width of the plots.
    return Markup(re.sub(r' style="[^"<>]*"', "", made))


def _link(ref: RepRef) -> str:
    return f"/session/{path_step(ref.session)}#rep-{ref.number}"
