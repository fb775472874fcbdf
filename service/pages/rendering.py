"""Turn a template into a page that escapes everything and runs nothing but our own modules."""

import hashlib
from datetime import UTC, datetime
from http import HTTPStatus
from pathlib import Path
from typing import Any

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

FOLDER = Path(__file__).parent

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
    "connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Content-Security-Policy of every page: no inline script, no inline style, nothing from elsewhere."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "Permissions-Policy": "microphone=(self), camera=(self), geolocation=()",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}

templates = Environment(
    loader=FileSystemLoader(FOLDER / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def _edition() -> str:
    """Return a name that differs where anything of the pages differs."""
    parts = sorted(path for folder in ("static", "templates") for path in (FOLDER / folder).iterdir())
    return hashlib.sha256(b"\0".join(path.read_bytes() for path in parts)).hexdigest()[:16]


EDITION = _edition()
"""The edition of the pages and their files, so that a phone never mixes those of two."""

templates.policies["json.dumps_kwargs"] = {"sort_keys": False}  # contacts stay in the order of the chart
templates.globals.update(asker=None, here="", edition=EDITION)


def page(name: str, *, status: int = HTTPStatus.OK, **values: Any) -> HTMLResponse:  # noqa: ANN401 - shown
    """Return a page from a template; every value is escaped."""
    return HTMLResponse(templates.get_template(name).render(**values), status_code=status, headers=HEADERS)


def first_upper(words: str) -> str:
    """Return a sentence beginning with a capital, the rest as it is."""
    return words[:1].upper() + words[1:]


def instant_in_words(stamp: str) -> str:
    """Return an instant of the record for a person, to the minute and with its zone.

    Examples
    --------
    >>> instant_in_words("2031-05-06T07:08:09.000000Z")
    '6 May 2031, 07:08 UTC'

    """
    at = datetime.fromisoformat(stamp).astimezone(UTC)
    return f"{at.day} {at:%b %Y, %H:%M} UTC"


templates.filters.update(first_upper=first_upper, instant=instant_in_words)
