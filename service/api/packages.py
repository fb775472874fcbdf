"""The package of a job: all of its evidence as a zip that can be checked without this service."""

from fastapi import APIRouter, Response

from service.api.asking import TheAsker, ThePorts
from service.api.problems import documented
from service.use_cases.make_package import make_package

router = APIRouter(prefix="/v1/jobs", tags=["packages"])


@router.get(
    "/{job}/package",
    response_class=Response,
    responses={
        **documented(404, 409),
        200: {"content": {"application/zip": {}}, "description": "The package"},
    },
    summary="Take the package away",
)
def package(ports: ThePorts, asker: TheAsker, job: str) -> Response:
    """Build the package; the same journal head gives the same bytes. Who took it is noted."""
    content = make_package(ports, asker, job)
    headers = {"Content-Disposition": f'attachment; filename="job-{job}.zip"', "Cache-Control": "no-store"}
    return Response(content, media_type="application/zip", headers=headers)
