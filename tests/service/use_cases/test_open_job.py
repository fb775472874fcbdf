"""A job is opened on definitions that can be used, and on no others."""

import math

import pytest
import yaml

from tests.builders import SAMPLES

FOLDER = SAMPLES / "jobs" / "rw-204"


def open_on(crew, chart: bytes | None = None, layout: bytes | None = None, **more):
    administrator = crew.administrator
    charts = chart or (FOLDER / "chart.yaml").read_bytes()
    layouts = layout or (FOLDER / "layout.json").read_bytes()
    body = {
        "valve": {"tag": "RW-204"},
        "chart": administrator.put_media(charts, "application/yaml"),
        "layout": administrator.put_media(layouts, "application/json"),
        "procedure": "one_checkpoint",
        "people": {crew.people["technician"]: ["technician"], crew.people["verifier"]: ["verifier"]},
        **more,
    }
    return administrator.post("/v1/jobs", body)


def changed_chart(change) -> bytes:
    chart = yaml.safe_load((FOLDER / "chart.yaml").read_text())
    change(chart)
    return yaml.safe_dump(chart).encode()


def test_the_first_entry_pins_every_definition_by_its_hash(crew):
    answer = open_on(crew)
    assert answer.status_code == 201
    entries = crew.administrator.ok(crew.administrator.get(f"/v1/jobs/{answer.json()['job']}/entries"))
    assert entries[0]["kind"] == "job_opened"
    pins = entries[0]["body"]["pins"]
    assert set(pins) == {"chart", "layout", "procedure", "phrases", "models", "site_rules", "valve"}
    for sha256 in pins.values():
        assert crew.administrator.get(f"/v1/media/{sha256}").status_code == 200


@pytest.mark.parametrize(
    "change",
    [
        lambda chart: chart["rotors"][0].update(trip_pct=math.nan),
        lambda chart: chart["rotors"][0].update(trip_pct=101),
        lambda chart: chart["rotors"][0].pop("trips_towards"),
        lambda chart: chart["contacts"][0].update(place="R9-low-1"),
        lambda chart: chart["contacts"].append(dict(chart["contacts"][0])),
        lambda chart: chart["contacts"][0].update(action="makes"),
        lambda chart: chart.update(valve="RW-205"),
    ],
    ids=["not finite", "off the scale", "missing", "nowhere", "twice", "contradictory", "of another valve"],
)
def test_a_chart_that_cannot_be_used_opens_nothing_and_is_refused_with_its_field(crew, change):
    before = crew.administrator.ok(crew.administrator.get("/v1/jobs"))
    answer = open_on(crew, chart=changed_chart(change))
    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/bad-definition"
    assert answer.json()["detail"]
    assert crew.administrator.ok(crew.administrator.get("/v1/jobs")) == before


@pytest.mark.parametrize("layout", [b"{}", b"{", b'{"rotors": NaN}'])
def test_a_layout_that_cannot_be_used_is_refused(crew, layout):
    answer = open_on(crew, layout=layout)
    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/bad-definition"


def test_a_procedure_that_there_is_not_is_refused_by_name(crew):
    answer = open_on(crew, procedure="never_written")
    assert answer.status_code == 404
    assert "never_written" in answer.json()["detail"]


def test_a_person_cannot_have_a_role_in_a_job_that_the_site_did_not_give(crew):
    answer = open_on(crew, people={crew.people["technician"]: ["verifier"]})
    assert answer.status_code == 422
    assert "Tamsin Oake" in answer.json()["detail"]


def test_a_job_of_another_site_is_not_found(crew, house, caller):
    from service.ports import Site
    from service.use_cases.keep_registers import NewPerson, invite_person, put_person
    from tests import builders
    from tests.driving import set_password

    elsewhere = Site(builders.new_id(), "Elsewhere", {})
    with house.ports.transactions.writing() as tx:
        tx.registers.add_site(elsewhere, builders.NOW)
        person = put_person(house.ports, tx, elsewhere.id, NewPerson("Una Vane", "una", ["administrator"]))
        token = invite_person(house.ports, tx, person)
    una = caller()
    set_password(una, token)
    una.sign_in("una")
    assert una.get(f"/v1/jobs/{crew.job}").status_code == 404
    assert una.ok(una.get("/v1/jobs")) == []
