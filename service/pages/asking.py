"""Who asks for a page: the sign-in that the interface for programs keeps in a cookie."""

from typing import Annotated
from urllib.parse import quote

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse, Response

from service.domain.refusals import NotSignedIn
from service.ports import Asker, Ports
from service.use_cases.sign_in import recognise

COOKIE = "limitwitness"
"""The cookie's name, as `POST /v1/session` sets it; a test holds the two together."""


def ports_of(request: Request) -> Ports:
    """Return what `compose` handed to this application."""
    ports: Ports = request.app.state.ports
    return ports


def asker_of(request: Request) -> Asker:
    """Return who asks; raises NotSignedIn or NotAllowed."""
    return recognise(ports_of(request), request.cookies.get(COOKIE))


def perhaps(request: Request) -> Asker | None:
    """Return who asks, or None where nobody is signed in."""
    try:
        return asker_of(request)
    except NotSignedIn:
        return None


def to_sign_in(request: Request) -> Response:
    """Send somebody who is not signed in to the sign-in page, and back here afterwards."""
    return RedirectResponse(f"/sign-in?go={quote(request.url.path)}", status_code=303)


ThePorts = Annotated[Ports, Depends(ports_of)]
TheAsker = Annotated[Asker, Depends(asker_of)]
Perhaps = Annotated[Asker | None, Depends(perhaps)]
