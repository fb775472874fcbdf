import json

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.api import problems
from service.domain import refusals


def every_refusal(kind=refusals.Refusal):
    for narrower in kind.__subclasses__():
        yield narrower
        yield from every_refusal(narrower)


def make(kind):
    more = {"retry_after_s": 7} if issubclass(kind, refusals.TooBusy) else {}
    return kind("Nothing was kept.", **more)


IN_DOMAIN = [kind for kind in every_refusal() if kind.__module__ == "service.domain.refusals"]


@pytest.mark.outside(source="RFC 9457, 3.1.2: status in the body must be the status of the response")
@pytest.mark.parametrize("kind", IN_DOMAIN)
def test_every_refusal_is_a_problem_document_with_its_status_repeated(kind):
    response = problems.problem_response(make(kind), "/v1/here")
    body = json.loads(response.body)
    assert response.media_type == "application/problem+json"
    assert body["status"] == response.status_code >= 400
    assert body["type"] == f"/problems/{kind.code}"
    assert body["title"]
    assert body["detail"] == "Nothing was kept."


def test_who_must_come_again_is_told_when():
    response = problems.problem_response(refusals.TooBusy("Full.", retry_after_s=30), "/x")
    assert response.headers["Retry-After"] == "30"
    assert response.status_code == 503


def test_a_defect_tells_nothing_of_itself_but_a_number():
    app = FastAPI()
    problems.install(app)

    @app.get("/broken")
    def broken():
        raise RuntimeError("secret of the house")

    with TestClient(app, raise_server_exceptions=False) as client:
        answer = client.get("/broken")
        missing = client.get("/nowhere")
    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert "secret" not in answer.text
    assert missing.json()["type"] == "about:blank"
    assert missing.json()["title"] == "Not Found"
