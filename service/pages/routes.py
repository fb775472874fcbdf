"""The routes of the pages: they read; the modules write, through the interface for programs."""

import json
from collections.abc import Callable, Coroutine
from http import HTTPStatus
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.routing import APIRoute
from fastapi.staticfiles import StaticFiles
from starlette.types import Scope

from service.domain.refusals import NotAllowed, NotFound, NotSignedIn, Refusal
from service.pages.asking import Perhaps, TheAsker, ThePorts, perhaps, to_sign_in
from service.pages.capture_view import capture_view
from service.pages.desk_view import desk_view
from service.pages.rendering import EDITION, FOLDER, page
from service.use_cases.show_capture import show_capture
from service.use_cases.show_desk import show_checkpoint, show_desk
from service.use_cases.show_drawing import show_drawing
from service.use_cases.show_job import list_jobs

STATUS = {NotFound: HTTPStatus.NOT_FOUND, NotAllowed: HTTPStatus.FORBIDDEN}


class PageRoute(APIRoute):
    """A route whose refusals are told as a page, or by sending the person to sign in."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler with refusals translated."""
        inner = super().get_route_handler()

        async def _answer(request: Request) -> Response:
            try:
                return await inner(request)
            except NotSignedIn:
                if request.url.path.endswith("/now"):
                    return page("problem.html", status=401, title="Sign in first", message="", hint=None)
                return to_sign_in(request)
            except Refusal as refusal:
                status = next((code for kind, code in STATUS.items() if isinstance(refusal, kind)), 409)
                return page(
                    "problem.html",
                    status=int(status),
                    asker=perhaps(request),
                    title=refusal.title,
                    message=refusal.message,
                    hint=refusal.hint,
                )

        return _answer


router = APIRouter(include_in_schema=False, route_class=PageRoute, default_response_class=HTMLResponse)


class Static(StaticFiles):
    """Our own files, asked for anew each time: a page and its modules never come from two versions."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Return a file."""
        response = await super().get_response(path, scope)
        response.headers["Cache-Control"] = "no-cache"
        return response


def install(app: FastAPI) -> None:
    """Add the pages to the application."""
    app.include_router(router)
    app.mount("/static", Static(directory=Path(FOLDER) / "static"), name="static")


@router.get("/")
def landing(asker: Perhaps) -> Response:
    """Say what this is and where to go."""
    return page("landing.html", asker=asker)


@router.get("/sign-in")
def sign_in(asker: Perhaps, go: str = "/", again: bool = False) -> Response:  # noqa: FBT001, FBT002 - in a query
    """Ask for name and password; `go` is the page of ours to go to afterwards."""
    there = go if go.startswith("/") and not go.startswith("//") and "\\" not in go else "/"
    if asker and not again:
        return RedirectResponse(there, status_code=303)
    return page("sign_in.html", go=there, why="")


@router.get("/invitation")
def invitation() -> Response:
    """Ask for a first password; the one-time token stands in the fragment, which no server sees."""
    return page("invitation.html")


@router.get("/kept")
def kept() -> Response:
    """Say, without connection, which jobs this phone can open; it is the same for everybody."""
    return page("kept.html")


@router.get("/worker.js")
def worker() -> Response:
    """Return what opens kept pages, with the edition and the files that it keeps written before it."""
    static = FOLDER / "static"
    files = [f"/static/{path.name}" for path in sorted(static.iterdir()) if path.name != "worker.js"]
    facts = f"const EDITION = {json.dumps(EDITION)};\nconst FILES = {json.dumps(files)};\n\n"
    text = facts + (static / "worker.js").read_text(encoding="utf-8")
    return Response(text, media_type="text/javascript", headers={"Cache-Control": "no-cache"})


@router.get("/jobs")
def jobs(ports: ThePorts, asker: TheAsker) -> Response:
    """List the jobs of the site."""
    return page("jobs.html", asker=asker, here="jobs", jobs=list_jobs(ports, asker))


@router.get("/jobs/{job}")
def capture(
    ports: ThePorts, asker: TheAsker, job: str, step: Annotated[str | None, Query()] = None
) -> Response:
    """Show the technician's page of a job."""
    return page("capture.html", asker=asker, here="jobs", **_capture(ports, asker, job, step))


@router.get("/jobs/{job}/now")
def capture_now(
    ports: ThePorts, asker: TheAsker, job: str, step: Annotated[str | None, Query()] = None
) -> Response:
    """Return the part of the technician's page that changes."""
    return page("capture_now.html", asker=asker, **_capture(ports, asker, job, step))


@router.get("/desk")
def desk(ports: ThePorts, asker: TheAsker) -> Response:
    """List what waits for the second person."""
    return page("desk.html", asker=asker, here="desk", **_desk(ports, asker))


@router.get("/desk/now")
def desk_now(ports: ThePorts, asker: TheAsker) -> Response:
    """Return the part of the desk that changes."""
    return page("desk_now.html", asker=asker, **_desk(ports, asker))


@router.get("/desk/{job}/{step}")
def checkpoint(ports: ThePorts, asker: TheAsker, job: str, step: str) -> Response:
    """Show one step to the second person."""
    return page("checkpoint.html", asker=asker, here="desk", **_checkpoint(ports, asker, job, step))


@router.get("/desk/{job}/{step}/now")
def checkpoint_now(ports: ThePorts, asker: TheAsker, job: str, step: str) -> Response:
    """Return the part of a step at the desk that changes."""
    return page("checkpoint_now.html", asker=asker, **_checkpoint(ports, asker, job, step))


def _capture(ports: ThePorts, asker: TheAsker, job: str, step: str | None) -> dict[str, Any]:
    return capture_view(show_capture(ports, asker, job), asker, step)


def _desk(ports: ThePorts, asker: TheAsker) -> dict[str, Any]:
    lines = show_desk(ports, asker)
    drawings = {job: show_drawing(ports, asker, job) for job in dict.fromkeys(line["job"] for line in lines)}
    places = {f"{job}/{step}": place for job, one in drawings.items() for step, place in one.places.items()}
    return {"lines": lines, "places": places}


def _checkpoint(ports: ThePorts, asker: TheAsker, job: str, step: str) -> dict[str, Any]:
    drawing = show_drawing(ports, asker, job)
    return desk_view(show_checkpoint(ports, asker, job, step), drawing, asker)
