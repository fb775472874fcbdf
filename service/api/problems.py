"""One shape for every error: `application/problem+json` (RFC 9457), with the status repeated in the body.

`type` is a relative reference, `/problems/<code>`, which the service answers with what it means; `field`
and `hint` extend it where the refusal names them. A defect of ours says nothing but that there was one, and
its number in the log.
"""

import uuid
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

import structlog
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.domain.refusals import (
    BadMedia,
    Conflict,
    Malformed,
    NotAllowed,
    NotFound,
    NotSignedIn,
    Outdated,
    Refusal,
    TooBusy,
)
from service.ports import TooLarge

log = structlog.get_logger()

STATUS: Mapping[type[Refusal], int] = {
    Outdated: 412,
    Conflict: 409,
    TooLarge: 413,
    BadMedia: 422,
    Malformed: 422,
    NotSignedIn: 401,
    NotAllowed: 403,
    NotFound: 404,
    TooBusy: 503,
    Refusal: 400,
}
"""HTTP status of each kind of refusal; the nearest class in the tree counts."""

MEDIA_TYPE = "application/problem+json"


class Problem(BaseModel):
    """A problem of RFC 9457. `detail` is for people and MUST NOT be parsed; `type` is for programs."""

    type: str = Field(examples=["/problems/held"])
    title: str = Field(examples=["The job is held"])
    status: int = Field(examples=[409])
    detail: str = Field(examples=["Contact nine: the claim says closed, the photo shows open."])
    instance: str | None = Field(None, examples=["/v1/jobs/0197.../release"])
    field: str | None = Field(None, description="Part of the input at fault, as a path.")
    hint: str | None = Field(None, description="What to do.")
    errors: list[dict[str, Any]] | None = Field(None, description="Each fault of a malformed message.")


def status_of(refusal: Refusal) -> int:
    """Return the HTTP status of a refusal."""
    if isinstance(refusal, TooBusy):
        return refusal.status
    return next(STATUS[kind] for kind in type(refusal).__mro__ if kind in STATUS)


def body_of(refusal: Refusal, instance: str) -> dict[str, Any]:
    """Return the problem document of a refusal."""
    body = {
        "type": f"/problems/{refusal.code}",
        "title": refusal.title,
        "status": status_of(refusal),
        "detail": refusal.message,
        "instance": instance,
        "field": refusal.field,
        "hint": refusal.hint,
    }
    return {name: value for name, value in body.items() if value is not None}


def problem_response(refusal: Refusal, instance: str) -> JSONResponse:
    """Return the response that tells a refusal."""
    body = body_of(refusal, instance)
    status = status_of(refusal)
    headers = {}
    if isinstance(refusal, TooBusy):
        headers["Retry-After"] = str(refusal.retry_after_s)
    if status == HTTPStatus.UNAUTHORIZED:
        headers["WWW-Authenticate"] = "Bearer"
    return _response(body, headers)


def install(app: FastAPI) -> None:
    """Make every error of `app` a problem document."""

    @app.exception_handler(Refusal)
    async def _refused(request: Request, refusal: Refusal) -> JSONResponse:
        if isinstance(refusal, NotSignedIn | NotAllowed):
            log.warning("refused", code=refusal.code, method=request.method, path=request.url.path)
        return problem_response(refusal, request.url.path)

    @app.exception_handler(RequestValidationError)
    async def _malformed(request: Request, error: RequestValidationError) -> JSONResponse:
        return _response(_validation_body(error, request.url.path))

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> JSONResponse:
        phrase = HTTPStatus(error.status_code).phrase
        detail = error.detail if isinstance(error.detail, str) else phrase
        body = {"type": "about:blank", "title": phrase, "status": error.status_code, "detail": detail}
        if error.status_code == HTTPStatus.BAD_REQUEST:
            body |= {"type": f"/problems/{Malformed.code}", "title": Malformed.title}
        return _response({**body, "instance": request.url.path}, dict(error.headers or {}))

    @app.exception_handler(Exception)
    async def _defect(request: Request, error: Exception) -> JSONResponse:
        number = str(uuid.uuid4())
        log.error("defect", number=number, path=request.url.path, exc_info=error)
        detail = (
            f"The service has a defect here; nothing of this request was kept. Number {number} in its log."
        )
        body = {"type": "about:blank", "title": "Internal Server Error", "status": 500, "detail": detail}
        return _response({**body, "instance": request.url.path})


def _validation_body(error: RequestValidationError, instance: str) -> dict[str, Any]:
    faults = [
        {"field": ".".join(str(part) for part in fault["loc"]), "what": fault["msg"]}
        for fault in error.errors()
    ]
    first = faults[0] if faults else {"field": None, "what": "The message cannot be used."}
    return {
        "type": "/problems/malformed",
        "title": Malformed.title,
        "status": 422,
        "detail": f"{first['field']}: {first['what']}",
        "instance": instance,
        "field": first["field"],
        "errors": faults,
    }


def _response(body: Mapping[str, Any], headers: Mapping[str, str] | None = None) -> JSONResponse:
    shown = {name: value for name, value in body.items() if value is not None}
    return JSONResponse(shown, status_code=body["status"], headers=dict(headers or {}), media_type=MEDIA_TYPE)


def documented(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the OpenAPI `responses` of a route that may answer with these problems.

    400, 401, 403, 422 and 503 are among them for every route.
    """
    return {status: _described(status) for status in sorted({400, 401, 403, 422, 503, *statuses})}


def _described(status: int) -> dict[str, Any]:
    named = [kind for kind, code in STATUS.items() if code == status]
    kind = named[0] if named and status != HTTPStatus.BAD_REQUEST else Malformed
    example = {
        "type": f"/problems/{kind.code}",
        "title": kind.title,
        "status": status,
        "detail": "What was wrong, in a sentence.",
    }
    content = {"schema": {"$ref": "#/components/schemas/Problem"}, "example": example}
    return {"description": HTTPStatus(status).phrase, "content": {MEDIA_TYPE: content}}


def add_shape(document: dict[str, Any]) -> dict[str, Any]:
    """Add the shape of problems to an OpenAPI document, where `documented` points to it."""
    document.setdefault("components", {}).setdefault("schemas", {})["Problem"] = Problem.model_json_schema()
    return document
