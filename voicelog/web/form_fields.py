"""What a form sends: one JSON object, of which nothing is believed before it was looked at."""

from __future__ import annotations

import json
from typing import Any

from starlette.requests import Request

from voicelog.app.review.errors import BadRequestError

__all__ = ["given", "text_of"]

LONGEST_TEXT = 2000
"""Characters of a field of a form, at most."""


def given(request: Request) -> dict[str, Any]:
    """The fields of a form. `request` has its whole body at hand.

    Raises:
        BadRequestError: it is no JSON object, or has half of a character or an endless number in
            it, which nothing could keep.
    """
    try:
        content = json.loads(request.state.body)
        json.dumps(content, allow_nan=False, ensure_ascii=False).encode()
    except (ValueError, RecursionError) as error:
        raise BadRequestError("Found a request that is no JSON; reload this page.") from error
    if not isinstance(content, dict):
        raise BadRequestError("Found a request that is no JSON object; reload this page.")
    return content


def text_of(fields: dict[str, Any], name: str) -> str:
    """One field as text, trimmed; empty where it is left out.

    Raises:
        BadRequestError: it is no text, or longer than any that is meant.
    """
    value = fields.get(name, "")
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        raise BadRequestError(
            f"Found no text of at most {LONGEST_TEXT} characters for {name}; reload this page."
        )
    return value.strip()
