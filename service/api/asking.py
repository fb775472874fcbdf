"""Who asks: the sign-in of a request, from its bearer token or from the cookie of a page.

A cookie goes along with requests that other sites cause; a change made with it MUST come from our own origin.
"""

from typing import Annotated

from fastapi import Depends, Request, Response
from fastapi.security import APIKeyCookie, HTTPBearer
from fastapi.security.http import HTTPAuthorizationCredentials
from starlette.requests import HTTPConnection

from service.domain.refusals import NotAllowed
from service.ports import Asker, Ports
from service.use_cases.sign_in import recognise

COOKIE = "limitwitness"
bearer = HTTPBearer(auto_error=False, description="Token of a sign-in.")
cookie = APIKeyCookie(name=COOKIE, auto_error=False, description="The same token, for pages.")


def ports_of(request: Request) -> Ports:
    """Return what `compose` handed to this application."""
    ports: Ports = request.app.state.ports
    return ports


def asker_of(
    request: Request,
    credentials: Annotated[HTTPAuthorizationCredentials | None, Depends(bearer)],
    kept: Annotated[str | None, Depends(cookie)],
) -> Asker:
    """Return who asks; raises NotSignedIn or NotAllowed."""
    if credentials is None and kept is not None:
        require_own_origin(request)
    return recognise(ports_of(request), credentials.credentials if credentials else kept)


def require_own_origin(request: Request) -> None:
    """Refuse a change that another site's page caused."""
    if request.method not in {"GET", "HEAD"}:
        require_own_page(request)


def require_own_page(connection: HTTPConnection) -> None:
    """Refuse what the page of another site asks for; a program that states no origin is no page."""
    origin = connection.headers.get("origin")
    if origin is not None and origin.split("://", 1)[-1] != connection.headers.get("host"):
        raise NotAllowed("This request comes from the page of another site.")


def keep_cookie(request: Request, response: Response, token: str) -> None:
    """Keep a sign-in in a cookie that no script can read."""
    secure = request.url.scheme == "https"
    response.set_cookie(COOKIE, token, httponly=True, samesite="strict", secure=secure, path="/")


ThePorts = Annotated[Ports, Depends(ports_of)]
TheAsker = Annotated[Asker, Depends(asker_of)]
