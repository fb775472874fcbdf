"""Bytes of photos, clips and definitions: put under their hash before anything names them, and handed out."""

from typing import Annotated, Any

from fastapi import APIRouter, Header, Path, Request, Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool

from service.api.asking import TheAsker, ThePorts
from service.api.body import whole_body
from service.api.problems import documented
from service.api.wire import Message
from service.ports import MediaRow
from service.use_cases.serve_media import serve_media
from service.use_cases.store_media import Upload, store_media

router = APIRouter(prefix="/v1/media", tags=["media"])

Sha256 = Annotated[
    str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the bytes, lower-case hexadecimal.")
]
ACCEPTED = (
    *(
        "image/jpeg",
        "image/png",
        "image/webp",
        "audio/wav",
        "audio/flac",
        "audio/ogg",
        "audio/webm",
        "audio/mp4",
    ),
    *("application/yaml", "application/json", "application/jsonl"),
)
BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {name: {"schema": {"type": "string", "format": "binary"}} for name in ACCEPTED},
    },
}


class MediaAnswer(Message):
    """What is stored: type by its first bytes, size, and a photo's pixels as its header states them."""

    sha256: str = Field(examples=["9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"])
    type: str = Field(examples=["image/jpeg"])
    bytes: int = Field(examples=[482113])
    width: int | None = Field(examples=[2400])
    height: int | None = Field(examples=[1800])
    received: str = Field(
        description="When these bytes came first.", examples=["2031-05-06T07:08:09.000000Z"]
    )

    @classmethod
    def of(cls, row: MediaRow) -> "MediaAnswer":
        """Tell what is known of stored bytes."""
        return cls(
            sha256=row.sha256,
            type=row.type,
            bytes=row.bytes,
            width=row.width,
            height=row.height,
            received=row.received,
        )


@router.put(
    "/{sha256}", responses=documented(413), openapi_extra=BODY, summary="Store bytes under their hash"
)
async def put(
    ports: ThePorts,
    asker: TheAsker,
    request: Request,
    sha256: Sha256,
    content_type: Annotated[str, Header()] = "",
) -> MediaAnswer:
    """Store a photo, clip or definition; idempotent, and durable when this answers.

    Type, size and pixel count are limited before anything decodes it. A wrong hash, a wrong label, a torn,
    animated, empty or oversized file gets a problem that says which.
    """
    shape = ports.inspector.shape_of(content_type)
    content = await whole_body(request, ports.inspector.largest(shape))
    upload = Upload(sha256, content, content_type, shape)
    return MediaAnswer.of(await run_in_threadpool(store_media, ports, asker, upload))


@router.get(
    "/{sha256}",
    response_class=Response,
    responses={**documented(404, 409), 200: {"content": {name: {} for name in ACCEPTED}}},
    summary="Fetch stored bytes",
)
def get(ports: ThePorts, asker: TheAsker, sha256: Sha256) -> Response:
    """Hand out stored bytes to whom they may be shown.

    And note in the log of servings that this person saw them.
    """
    row, content = serve_media(ports, asker, sha256)
    headers = {
        "Cache-Control": "private, no-store",
        "Content-Disposition": f'inline; filename="{sha256[:12]}"',
        "X-Content-Type-Options": "nosniff",
        "Content-Security-Policy": "sandbox",
    }
    return Response(content, media_type=row.type, headers=headers)
