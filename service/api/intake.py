"""Items of devices: put one by one in any order, acknowledged once they are durable."""

from typing import Annotated

from fastapi import APIRouter, Header, Path, Response

from service.api.asking import TheAsker, ThePorts
from service.api.job_wire import ClipItem, PhotoItem, StatementItem, TakenAnswer, item_of
from service.api.problems import documented
from service.use_cases.take_in import take_in

router = APIRouter(prefix="/v1/jobs", tags=["intake"])

ItemId = Annotated[
    str,
    Path(
        pattern="^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$",
        description="UUID that the device made (version 7 by preference): an identity, not a time.",
    ),
]
DeviceClock = Annotated[
    str | None, Header(description="The device's clock while sending, RFC 3339 with offset.")
]


@router.put(
    "/{job}/items/{item}",
    responses={201: {"model": TakenAnswer, "description": "Taken in"}, **documented(404, 409, 429)},
    summary="Take in one item",
)
def put(  # noqa: PLR0913 - FastAPI reads the request's parts from these
    ports: ThePorts,
    asker: TheAsker,
    response: Response,
    job: str,
    item: ItemId,
    message: ClipItem | PhotoItem | StatementItem,
    device_clock: DeviceClock = None,
) -> TakenAnswer:
    """Take in a clip, photo or typed statement; idempotent by device and identity.

    201: new; 200: known already. `pending` says that it waits past a gap in the device's sequence; what
    restricts acts all the same. The same identity with other content is answered 409, and is itself an
    entry. Put the media first.
    """
    read_back = ""
    if isinstance(message, StatementItem):
        read_back = ports.hearing.read_back(message.intent, message.slots)
    taken = take_in(ports, asker, job, item_of(message, item, asker, read_back), device_clock)
    response.status_code = 201 if taken.new else 200
    return TakenAnswer(
        item=item, entry=taken.entry, new=taken.new, pending=taken.pending, read_back=read_back
    )
