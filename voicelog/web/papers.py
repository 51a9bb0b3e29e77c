"""The papers over weeks as pages, each rep a link to where it can be heard."""

from __future__ import annotations

from markupsafe import Markup

from voicelog.app.handover import dog_handover
from voicelog.app.progress import dog_plan, dog_progress, kennel_overview
from voicelog.app.review.errors import NotFoundError
from voicelog.app.review.review_service import ReviewService
from voicelog.app.session_choice import NoSessionsError
from voicelog.report import html, paper_html
from voicelog.report.deriving_words import page_waits_words
from voicelog.report.paper import Paper, SoundReference
from voicelog.web.responses import path_step

__all__ = ["PAPERS_CSS", "handover_page", "kennel_page", "plan_page", "progress_page"]

PAPERS_CSS = html.STYLE + paper_html.STYLE
"""The style of the papers, which comes before the page's own."""


def progress_page(service: ReviewService, name: str) -> Markup:
    """How a dog goes on. Raises NotFoundError for a dog without sessions."""
    service.bring_dogs([name])
    try:
        return _shown(dog_progress(service.session_catalog, name, service.today(), face="page"))
    except NoSessionsError as error:
        if service.log.roster().dog(name) is None:
            raise _no_dog(name) from error
        raise NotFoundError(
            f"Found no session of '{name[:60]}' yet; add a recording first."
        ) from error


def plan_page(service: ReviewService, name: str) -> Markup:
    """A dog's next session. Raises NotFoundError for a dog that the log does not know."""
    service.bring_dogs([name])
    try:
        return _shown(dog_plan(service.session_catalog, name, service.today(), face="page"))
    except NoSessionsError as error:
        raise _no_dog(name) from error


def handover_page(service: ReviewService, name: str) -> Markup:
    """What to know of a dog before a session. Raises NotFoundError for a dog that the log does not
    know."""
    service.bring_dogs([name])
    try:
        return _shown(dog_handover(service.session_catalog, name, service.today()))
    except NoSessionsError as error:
        raise _no_dog(name) from error


def kennel_page(service: ReviewService) -> Markup:
    """How all dogs stand; while another program's work is done again, how much of it is left."""
    if waiting := service.left_by_another_program():
        return Markup("<p>{}</p>").format(page_waits_words(len(waiting)))
    return _shown(kennel_overview(service.session_catalog, service.today(), face="page"))


def _no_dog(name: str) -> NotFoundError:
    return NotFoundError(f"Found no dog '{name[:60]}' in the log; go back to the dogs.")


def _shown(paper: Paper) -> Markup:
    return Markup(paper_html.article(paper, link=_link))


def _link(ref: SoundReference) -> str:
    rep = f"#rep-{ref.number}" if ref.number else ""
    return f"/session/{path_step(ref.session)}{rep}"
