"""What holds for every route: one shape of problem, a description with examples, and who may call it."""

import json

import pytest
from fastapi.routing import APIRoute

from service.compose import compose
from service.settings import Settings
from tests.driving import Caller
from tests.service.conftest import SETTINGS, StandInReader

OPEN_TO_ALL = {
    ("GET", "/"),
    ("GET", "/invitation"),
    ("GET", "/health"),
    ("GET", "/problems/{code}"),
    ("POST", "/v1/passwords"),
    ("POST", "/v1/session"),
    ("POST", "/v1/devices"),
}
"""The routes that need no sign-in; each other one refuses a stranger."""

BODIES = {
    ("POST", "/v1/session/proof"): {"password": "x"},
    ("POST", "/v1/persons"): {"name": "Bo", "sign_in_name": "bo", "roles": ["technician"]},
    ("PUT", "/v1/persons/{person}/roles"): {"roles": ["technician"]},
    ("POST", "/v1/devices/invitations"): {"name": "phone"},
}


def api_routes(app) -> list[tuple[str, str]]:
    found = [route for route in _flat(app.routes) if isinstance(route, APIRoute)]
    return sorted((method, route.path) for route in found for method in route.methods)


def _flat(routes):
    for route in routes:
        inner = getattr(route, "routes", None)
        if inner:
            yield from _flat(inner)
        else:
            yield route


@pytest.fixture(scope="module")
def described(tmp_path_factory):
    settings = Settings(folder=tmp_path_factory.mktemp("described") / "data", **SETTINGS)
    house = compose(settings, reading=StandInReader())
    yield house.app().openapi()
    house.close()


def operations(described):
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            yield method.upper(), path, operation


def filled(path: str) -> str:
    parts = {"sha256": "0" * 64, "item": "0197a0c4-2f6e-7bb1-9a53-3a2f1c9f0d11"}
    while "{" in path:
        name = path[path.index("{") + 1 : path.index("}")]
        path = path.replace("{" + name + "}", parts.get(name, "nothing-of-this-name"))
    return path


def test_a_stranger_is_refused_on_every_route_but_those_named(described, caller):
    stranger = caller()
    refused = set()
    for method, path, _ in operations(described):
        answer = stranger.http.request(method, filled(path), json=BODIES.get((method, path)))
        if answer.status_code == 401:
            refused.add((method, path))
    all_of_them = {(method, path) for method, path, _ in operations(described)}
    named = {one for one in OPEN_TO_ALL if one in all_of_them}
    assert refused | named == all_of_them
    assert not refused & (
        named - {("POST", "/v1/session"), ("POST", "/v1/passwords"), ("POST", "/v1/devices")}
    )


def is_problem(answer) -> bool:
    if answer.headers.get("content-type") != "application/problem+json":
        return False
    body = answer.json()
    return body["status"] == answer.status_code and {"type", "title", "detail"} <= set(body)


@pytest.mark.outside(source="RFC 9457, 3: application/problem+json with type, title, status, detail")
def test_every_error_of_every_route_has_the_one_shape(described, crew):
    people: list[Caller] = [crew.administrator, crew.technician]
    for method, path, _ in operations(described):
        for body in (None, "not an object", {"surprise": 1}):
            for who in people:
                if (method, path) == ("DELETE", "/v1/session"):
                    continue
                answer = who.http.request(method, filled(path), json=body)
                assert answer.status_code < 400 or is_problem(answer), f"{method} {path}: {answer.text}"
                assert answer.status_code < 500, f"{method} {path}: {answer.text}"


def test_unknown_paths_and_methods_are_problems_too(caller):
    nobody = caller()
    assert is_problem(nobody.get("/v1/nothing"))
    assert is_problem(nobody.http.request("DELETE", "/health"))


def test_every_operation_says_what_it_does_and_what_it_answers(described):
    for method, path, operation in operations(described):
        where = f"{method} {path}"
        assert operation["summary"], where
        assert operation["description"], where
        if path.startswith("/v1/"):
            problem = operation["responses"]["422"]["content"]
            assert set(problem) == {"application/problem+json"}, where
            assert {"401", "403", "422", "503"} <= set(operation["responses"]), where


def test_every_message_has_an_example_or_a_description_in_each_field(described):
    lacking = []
    for name, schema in described["components"]["schemas"].items():
        if not name.endswith("Message") and not name.endswith("Request"):
            continue
        for field, shape in schema.get("properties", {}).items():
            told = {"examples", "description", "enum", "const", "default", "$ref", "minimum"} & set(shape)
            if not told and "anyOf" not in shape:
                lacking.append(f"{name}.{field}")
    assert lacking == []


def test_every_type_of_problem_is_explained_where_it_points(caller):
    nobody = caller()
    answer = nobody.get("/v1/jobs")
    told = nobody.ok(nobody.get(answer.json()["type"]))
    assert told["title"] == answer.json()["title"]
    assert told["meaning"]
    assert is_problem(nobody.get("/problems/never-heard-of"))


RIGHTS = {
    # route: roles whose holders are not answered 403
    ("POST", "/v1/persons"): {"administrator"},
    ("PUT", "/v1/persons/{person}/roles"): {"administrator"},
    ("POST", "/v1/persons/{person}/invitation"): {"administrator"},
    ("DELETE", "/v1/persons/{person}"): {"administrator"},
    ("GET", "/v1/devices"): {"administrator"},
    ("POST", "/v1/devices/invitations"): {"administrator"},
    ("DELETE", "/v1/devices/{device}"): {"administrator"},
    ("GET", "/v1/persons"): {"administrator", "technician", "verifier", "engineer"},
    ("GET", "/v1/jobs"): {"administrator", "technician", "verifier", "engineer"},
    ("GET", "/v1/desk"): {"administrator", "technician", "verifier", "engineer"},
}
"""The rights table of what needs a role of the site.

Rights within a job are the domain's and have tests there.
"""


@pytest.mark.parametrize(("method", "path"), sorted(RIGHTS))
def test_the_rights_table_holds_role_by_route(crew, method, path):
    allowed = set()
    for role, one in crew.everybody().items():
        answer = one.http.request(method, filled(path), json=BODIES.get((method, path)))
        if answer.status_code != 403:
            allowed.add(role)
    assert allowed == RIGHTS[method, path]


def test_a_job_is_opened_by_engineers_and_administrators_alone(crew):
    body = {
        "valve": {"tag": "RW-204"},
        "chart": "0" * 64,
        "layout": "0" * 64,
        "procedure": "one_checkpoint",
        "people": {crew.people["technician"]: ["technician"]},
    }
    answers = {role: one.post("/v1/jobs", body).status_code for role, one in crew.everybody().items()}
    assert answers == {"administrator": 404, "engineer": 404, "technician": 403, "verifier": 403}


def test_people_without_a_part_in_a_job_do_not_see_it(crew, caller):
    from tests.driving import add_person

    add_person(crew.administrator, "Bo Tarn", "technician")
    bo = caller()
    bo.sign_in("bo.tarn")
    assert bo.get(f"/v1/jobs/{crew.job}").status_code == 403
    assert bo.get(f"/v1/jobs/{crew.job}/entries").status_code == 403
    assert bo.get(f"/v1/jobs/{crew.job}/package").status_code == 403


def test_the_description_is_json_that_names_no_machine(described):
    text = json.dumps(described)
    assert "localhost" not in text
    assert "/tmp" not in text  # noqa: S108 - looked for, not used
