"""The body of a request, read piece by piece and never further than its limit."""

from fastapi import Request

from service.domain.refusals import BadMedia
from service.ports import TooLarge


async def whole_body(request: Request, largest: int, what: str = "file") -> bytes:
    """Return the body; raises TooLarge beyond `largest` bytes, and BadMedia where there is none."""
    stated = request.headers.get("content-length", "0")
    if stated.isdigit() and int(stated) > largest:
        raise TooLarge(f"The {what} has {stated} bytes; at most {largest} are taken.", field="body")
    parts: list[bytes] = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > largest:
            raise TooLarge(f"The {what} has more than {largest} bytes.", field="body")
        parts.append(part)
    if not size:
        raise BadMedia(f"The {what} is empty.", field="body")
    return b"".join(parts)
