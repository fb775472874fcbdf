"""The computations by HTTP: what the commands print, the drawings, and every bad document a problem with its field."""

import copy
import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import yaml

from service.command_line import main
from service.commands.packaged_jobs import states_of
from service.definitions.trade_files import SCHEMAS, as_one
from service.domain.job_looks import looks_of
from service.use_cases.job_record import load_job
from tests.builders import photo
from tests.driving import add_person
from tests.service.api.test_one_checkpoint import STEP, WRONG, claim_travel, judge

JOBS = Path(__file__).parents[3] / "sample_media/jobs"
TAGS = ("rw-204", "rw-118", "rw-330")


def document(tag, name):
    read = (JOBS / tag / name).read_bytes()
    return as_one(read, lambda other, _field: (JOBS / tag / other).read_bytes())


def printed(capsys, *arguments):
    main([str(one) for one in arguments])
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


@pytest.fixture
def ask(crew):
    def asked(path, body, who="technician", **query):
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        caller = crew.everybody()[who]
        return caller.http.request("POST", f"/v1/computations/{path}", content=content, params=query)

    return asked


@pytest.mark.parametrize("tag", TAGS)
def test_a_chart_is_told_as_the_command_tells_it(tag, ask, capsys):
    (whole,) = printed(capsys, "chart", JOBS / tag / "chart.yaml", "--json")
    assert ask("chart", document(tag, "chart.yaml")).json() == whole
    for towards in ("open", "closed"):
        (at,) = printed(
            capsys,
            "chart",
            JOBS / tag / "chart.yaml",
            "--json",
            "--at",
            "2",
            "--towards",
            towards,
            "--plus-minus",
            "1",
        )
        query = {"at_pct": 2, "towards": towards, "plus_minus_pct": 1}
        assert ask("chart", document(tag, "chart.yaml"), **query).json() == at
    turned = ["--at", "2", "--towards", "open", "--after", "50", "0.5"]
    (after,) = printed(capsys, "chart", JOBS / tag / "chart.yaml", "--json", *turned)
    query = {"at_pct": 2, "towards": "open", "after": [50, 0.5]}
    assert ask("chart", document(tag, "chart.yaml"), **query).json() == after


@pytest.mark.parametrize("tag", TAGS)
def test_advice_and_rehearsal_are_told_as_the_commands_tell_them(tag, ask, capsys):
    path, body = JOBS / tag / "valve.yaml", document(tag, "valve.yaml")
    assert ask("advice", body).json() == printed(capsys, "advise", path, "--json")
    assert [ask("rehearsal", body).json()] == printed(capsys, "rehearse", path, "--json")
    other = ask("rehearsal", body, towards="open").json()
    assert [other] == printed(capsys, "rehearse", path, "--json", "--towards", "open")


@pytest.mark.parametrize(
    ("path", "verb", "name"),
    [
        ("repeats", "repeat", "repeats.yaml"),
        ("drift", "drift", "drift.yaml"),
        ("agreement", "agreement", "looks.yaml"),
    ],
)
def test_repeats_drift_and_looks_are_told_as_the_commands_tell_them(path, verb, name, ask, capsys):
    file = JOBS / "rw-204" / name
    told = ask(path, file.read_bytes()).json()
    assert (told if isinstance(told, list) else [told]) == printed(capsys, verb, file, "--json")
    main([verb, str(file)])
    assert ask(path, file.read_bytes(), form="words").text == capsys.readouterr().out.rstrip("\n")


def test_yaml_and_json_are_one_and_the_same(ask):
    body = document("rw-204", "valve.yaml")
    assert ask("rehearsal", yaml.safe_dump(body).encode()).json() == ask("rehearsal", body).json()


def test_drawings_and_words_come_in_their_own_form(ask):
    chart, valve = document("rw-204", "chart.yaml"), document("rw-204", "valve.yaml")
    for path, body, words in (
        ("chart", chart, "RW-204: contact chart"),
        ("rehearsal", valve, "stroke towards"),
    ):
        drawn = ask(path, body, form="svg")
        assert drawn.headers["content-type"] == "image/svg+xml"
        assert words in "".join(ET.fromstring(drawn.text).itertext())  # noqa: S314 - drawn a moment ago
    assert "rotor R1 trips at 1.5 %" in ask("chart", chart, form="words").text
    assert ask("rehearsal", valve, form="words").text.startswith("Predicted from stated figures")
    assert ask("advice", valve, form="words").text.startswith("Only with the power locked out")


def test_every_role_may_compute_and_nobody_who_is_not_signed_in(ask, crew, caller):
    body = document("rw-118", "chart.yaml")
    assert {ask("chart", body, who=role).status_code for role in crew.everybody()} == {200}
    assert caller().http.request("POST", "/v1/computations/chart", content=b"{}").status_code == 401


def spoilt(name, change):
    body = copy.deepcopy(document("rw-204", name))
    change(body)
    return body


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("chart", spoilt("chart.yaml", lambda d: d["rotors"][0].update(trip_pct=101)), "rotors[0].trip_pct"),
        ("chart", spoilt("chart.yaml", lambda d: d.update(layout="layout.json")), "layout"),
        (
            "chart",
            spoilt("chart.yaml", lambda d: d["contacts"][0].update(action="makes")),
            "contacts[1].action",
        ),
        (
            "chart",
            spoilt("chart.yaml", lambda d: d["circuits"]["lamps"]["red"].update(lit_when="lamp red")),
            "circuits.lamps.red.lit_when",
        ),
        ("rehearsal", spoilt("valve.yaml", lambda d: d["scale"].update(lead="0 mm")), "scale.lead"),
        ("rehearsal", spoilt("valve.yaml", lambda d: d["motor"].update(slip=2)), "motor.slip"),
        ("rehearsal", spoilt("valve.yaml", lambda d: d["stroke"]["marks"].pop(0)), "stroke.marks"),
        ("rehearsal", spoilt("valve.yaml", lambda d: d["scale"].update(motor=99999)), "scale.motor"),
        (
            "advice",
            spoilt("valve.yaml", lambda d: d["setting"]["tripped"].update(R9=True)),
            "setting.tripped.R9",
        ),
        (
            "advice",
            spoilt("valve.yaml", lambda d: d["setting"]["handwheel"][1].update(sense="clockwise")),
            "setting.handwheel[1].sense",
        ),
        ("advice", {"surprise": 1}, "surprise"),
        ("repeats", {"valve": "RW-1", "trips": []}, "trips"),
        ("drift", {"valve": "RW-1"}, "trips"),
        ("agreement", {"looks": [{"contact": "9", "first": "open"}]}, "looks[0].second"),
    ],
)
def test_a_bad_document_is_a_problem_that_names_the_field(ask, path, body, field):
    answer = ask(path, body)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["field"] == field


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"at_pct": 3}, "towards"),
        ({"towards": "open"}, "at_pct"),
        ({"at_pct": 2, "towards": "closed", "after": [50, 0.5]}, "after"),
        ({"at_pct": 2, "towards": "closed", "after": ["inf"]}, "after"),
        ({"at_pct": 300, "towards": "open"}, "at_pct"),
        ({"at_pct": "nan", "towards": "open"}, "at_pct"),
        ({"at_pct": 3, "towards": "open", "plus_minus_pct": -1}, "plus_minus_pct"),
        ({"at_pct": 3, "towards": "left"}, "query.towards"),
        ({"form": "pdf"}, "query.form"),
    ],
)
def test_a_question_that_is_none_is_a_problem_that_names_it(ask, query, field):
    answer = ask("chart", document("rw-204", "chart.yaml"), **query)
    assert (answer.status_code, answer.json()["field"]) == (422, field)


@pytest.mark.parametrize(
    ("content", "status"), [(b"", 422), (b"\xff\xff", 422), (b"[1, 2", 422), (b"a: " + b"x" * 1_000_001, 413)]
)
def test_a_body_that_is_no_document_is_a_problem(ask, content, status):
    for path in ("chart", "advice", "rehearsal", "repeats", "drift", "agreement"):
        assert ask(path, content).status_code == status


def test_too_many_at_once_are_told_when_to_come_again(ask, crew, monkeypatch):
    monkeypatch.setattr("service.api.computations.MOST_WAITING", 0)
    answer = ask("chart", document("rw-204", "chart.yaml"))
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "2"


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_schemas_are_served_as_the_commands_print_them(name, crew, capsys):
    served = crew.technician.ok(crew.technician.get(f"/v1/schemas/{name}"))
    verbs = {"chart": "chart", "valve": "advise", "repeats": "repeat", "drift": "drift", "looks": "agreement"}
    if name in verbs:
        with pytest.raises(SystemExit):
            main([verbs[name], "--schema"])
        assert json.loads(capsys.readouterr().out) == served
    assert crew.technician.get("/v1/schemas/nothing").status_code == 404


def close(house, job):
    """List the job as handed back, as the listing says it once every step has passed."""
    with house.ports.transactions.writing() as tx:
        (site,) = tx.registers.sites()
        tx.listings.put_job(replace(tx.listings.job(site.id, job), status="closed"))


def one_look(crew, reader, work_off):
    """Photo and blind judgement of the closed end, the photo showing contact 9 and its rotor otherwise."""
    claim_travel(crew.technician)
    content = photo(64, 48)
    reader.show(content, WRONG)
    crew.technician.photo(STEP, content, "image/png")
    work_off()
    crew.verifier.ok(judge(crew.verifier))


def test_the_looks_of_a_site_count_jobs_that_are_handed_back_alone(
    at_photo_step, reader, work_off, house, capsys
):
    crew = at_photo_step
    one_look(crew, reader, work_off)
    there = "/v1/agreement"
    assert crew.engineer.ok(crew.engineer.get(there))["left_out"] == {"not handed back": 1}
    close(house, crew.job)
    told = crew.engineer.ok(crew.engineer.get(there))
    assert (told["jobs"], told["opinions"]) == (1, {"none given": 1})
    pair = told["compared"]["second person and reader"]
    assert (pair["looks"], pair["disagreed"], pair["enough"]) == (3, 1, False)
    assert {one["contact"] for one in pair["by_contact"] if one["disagreed"]} == {"9", "3B", "17", "5A"}
    assert crew.engineer.ok(crew.engineer.get(there)) == told
    words = crew.engineer.http.request("GET", there, params={"form": "words"}).text
    assert words.startswith("Jobs that are handed back: 1")
    assert main(["agreement", "--data", str(house.settings.folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == told


def test_the_looks_of_a_package_are_those_of_its_job(at_photo_step, reader, work_off, house, tmp_path):
    crew = at_photo_step
    one_look(crew, reader, work_off)
    package = tmp_path / "package.zip"
    package.write_bytes(crew.engineer.get(f"/v1/jobs/{crew.job}/package").content)
    (state,), left_out = states_of([package])
    with house.ports.transactions.reading() as tx:
        (site,) = tx.registers.sites()
        record = load_job(house.ports, tx, site.id, crew.job)
    assert not left_out
    assert state.pinned.job == crew.job
    assert looks_of(state) == looks_of(record.state)


def test_jobs_that_take_too_long_are_left_out_and_counted_when_asked_again(crew, house, monkeypatch):
    close(house, crew.job)
    monkeypatch.setattr("service.use_cases.tell_agreement.LONGEST_S", -1.0)
    told = crew.engineer.ok(crew.engineer.get("/v1/agreement"))
    assert (told["jobs"], told["left_out"]) == (0, {"not counted in time, ask again": 1})
    monkeypatch.setattr("service.use_cases.tell_agreement.LONGEST_S", 20.0)
    assert crew.engineer.ok(crew.engineer.get("/v1/agreement"))["jobs"] == 1


def test_whoever_has_no_part_in_a_job_does_not_count_over_it(crew, house, caller):
    close(house, crew.job)
    add_person(crew.administrator, "Bo Tarn", "technician")
    bo = caller()
    bo.sign_in("bo.tarn")
    told = bo.ok(bo.get("/v1/agreement"))
    assert (told["jobs"], told["left_out"]) == (0, {"not for this person": 1})
    assert told["compared"]["technician and reader"]["disagreed_share"] is None
