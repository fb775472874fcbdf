"""What a stream refuses, with which close code, and that nobody else is hurt by it."""

import json
import threading
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from starlette.testclient import WebSocketDenialResponse

from service.api import stream_session
from service.api.app import build_app
from service.api.stream_endings import MOST_REASON, StreamEnds
from tests.driving import Caller, add_person, enrol
from tests.service.api.streams import Stream, entries, opus_stream, quiet, sound


@pytest.fixture
def limited(house):
    """A maker of seats at the same house with other limits."""
    made = []

    def make(caller: Caller, **limits: int) -> Caller:
        ports = replace(house.ports, limits=replace(house.ports.limits, **limits))
        client = TestClient(build_app(ports, "test"), raise_server_exceptions=False)
        client.headers["Authorization"] = caller.http.headers["Authorization"]
        made.append(client)
        seated = Caller("", client)
        seated.job = caller.job
        return seated

    yield make
    for client in made:
        client.close()


def ended(caller: Caller, *messages, opening=True, **open_with) -> Stream:
    """A stream to which these were sent, when it has closed."""
    with Stream(caller, **({} if opening else {"step": ""}), **open_with) as stream:
        for one in messages:
            if isinstance(one, bytes):
                stream._socket.send_bytes(one)
            else:
                stream.text(one if isinstance(one, str) else json.dumps(one))
        stream.to_the_end()
    return stream


@pytest.mark.outside(
    source="RFC 6455, 7.4.1: 1003 a type of data it cannot accept, 1007 not consistent, 1008 policy, 1009 too big"
)
@pytest.mark.parametrize(
    ("message", "code", "says"),
    [
        ("tra la la", 1007, "JSON"),
        ('"open"', 1003, "one of"),
        ({"type": "song"}, 1003, "one of"),
        ({"type": "speaking", "state": "louder"}, 1008, "state"),
        ({"type": "clock", "number": 1, "recorded_s": -1}, 1008, "recorded_s"),
        ({"type": "known", "seq": "all"}, 1008, "seq"),
        ({"type": "step", "step": "dance"}, 1008, "no such step"),
        ({"type": "open", "step": "closed_end"}, 1008, "open already"),
        (bytes(320_001), 1009, "320000"),
    ],
    ids=str,
)
def test_what_does_not_belong_in_a_stream_closes_it_and_says_why(at_photo_step, message, code, says):
    stream = ended(at_photo_step.technician, message)
    assert stream.code == code
    assert says in stream.reason
    assert len(stream.reason.encode()) <= MOST_REASON


@pytest.mark.parametrize(
    ("opening", "code", "says"),
    [
        ({"rate": 44_100}, 1003, "44100"),
        ({"rate": 8_000}, 1003, "8000"),
        ({"channels": 2}, 1003, "one channel"),
        ({"encoding": "mp3"}, 1008, "encoding"),
        ({"step": "dance"}, 1008, "no such step"),
        ({"device_time": "half past nine"}, 1008, "device_time"),
        ({"device_time": "2031-05-06T09:08:07"}, 1008, "device_time"),
        ({"surprise": 1}, 1008, "surprise"),
    ],
    ids=str,
)
def test_an_opening_that_cannot_be_heard_is_refused_by_name(at_photo_step, opening, code, says):
    stream = ended(at_photo_step.technician, **opening)
    assert stream.code == code
    assert says in stream.reason
    assert "ready" not in stream.kinds()


def test_sound_before_the_opening_is_refused(at_photo_step):
    assert ended(at_photo_step.technician, quiet(0.1), opening=False).code == 1003


@pytest.mark.parametrize("encoding", ["ogg", "webm"])
def test_bytes_that_are_no_opus_are_refused(at_photo_step, encoding):
    stream = ended(at_photo_step.technician, b"\x00" * 300_000, encoding=encoding)
    assert stream.code == 1003
    assert stream.of("problem")[0]["problem"]["type"] == "/problems/bad-media"


def test_sound_that_comes_faster_than_time_passes_is_refused_and_what_came_is_kept(at_photo_step, limited):
    """A rate that is declared wrong looks like this: 48 000 samples a second come as three seconds of 16 000."""
    technician = limited(at_photo_step.technician, stream_ahead_s=4)
    with Stream(technician) as stream:
        stream.play(sound(0.5, "9_3b_open", 3.0))
        stream.to_the_end()
    assert stream.code == 1008
    assert "4 s ahead" in stream.reason
    assert stream.of("recorded")


def test_a_stream_of_which_nothing_comes_is_closed(at_photo_step, limited):
    stream = ended(limited(at_photo_step.technician, stream_idle_s=1))
    assert stream.code == 1008
    assert "1 s" in stream.reason


def test_no_more_microphones_than_the_setting_says(at_photo_step, limited):
    stream = ended(limited(at_photo_step.technician, streams_limit=0))
    assert stream.code == 1013
    assert "0 microphones" in stream.reason
    assert stream.of("problem")[0]["problem"]["type"] == "/problems/too-busy"


def test_a_newer_stream_of_the_same_device_takes_the_place_of_the_older(at_photo_step):
    technician = at_photo_step.technician
    other = Caller("", TestClient(technician.http.app, raise_server_exceptions=False))
    other.http.headers["Authorization"] = technician.http.headers["Authorization"]
    other.job = technician.job
    with technician.http, Stream(technician) as older:
        older.until("ready")
        with Stream(technician) as newer:
            newer.until("ready")
            older.to_the_end()
            newer.close()
    other.close()
    assert older.code == 1008
    assert "newer stream" in older.reason
    assert newer.code == 1000


def test_a_sign_in_that_ends_ends_the_stream_and_what_was_said_before_is_kept(at_photo_step, monkeypatch):
    monkeypatch.setattr(stream_session, "ASKING_S", 0.2)
    crew = at_photo_step
    devices = crew.administrator.ok(crew.administrator.get("/v1/devices"))
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, "9_3b_open", 1.0))
        stream.until("claim")
        crew.administrator.ok(crew.administrator.http.delete(f"/v1/devices/{devices[0]['id']}"))
        stream.to_the_end()
    assert stream.code == 1008
    assert "sign-in has ended" in stream.reason
    assert len(stream.of("recorded")) == 1


def test_odd_bytes_are_halves_of_samples(at_photo_step):
    with Stream(at_photo_step.technician) as stream:
        stream.play(sound(0.5, "9_3b_open", 3.0), chunk=4_001)
        stream._socket.send_bytes(b"")
        stream.close()
    assert [one["hearing"]["verdict"] for one in stream.of("recorded")] == ["heard"]


def test_strangers_other_sites_pages_and_sign_ins_without_a_device_are_refused_before_it_begins(
    at_photo_step, caller
):
    crew = at_photo_step
    path = f"/v1/jobs/{crew.job}/stream"

    def refused(who, **more) -> tuple[int, str]:
        with pytest.raises(WebSocketDenialResponse) as denial, who.http.websocket_connect(path, **more):
            pass
        return denial.value.status_code, denial.value.headers["content-type"]

    assert refused(caller()) == (401, "application/problem+json")
    assert refused(crew.verifier) == (403, "application/problem+json")
    page = caller()
    token = crew.technician.http.headers["Authorization"].removeprefix("Bearer ")
    cookie = {"Cookie": f"limitwitness={token}"}
    assert refused(page, headers={**cookie, "Origin": "https://elsewhere.example"})[0] == 403
    with page.http.websocket_connect(path, headers={**cookie, "Origin": "http://testserver"}) as own:
        own.send_json({"type": "end"})


def test_people_without_a_part_in_the_job_are_not_listened_to(at_photo_step, caller):
    crew = at_photo_step
    add_person(crew.administrator, "Bo Tarn", "technician")
    bo = caller()
    bo.sign_in("bo.tarn", device_token=enrol(crew.administrator, "other phone"))
    with (
        pytest.raises(WebSocketDenialResponse) as denial,
        bo.http.websocket_connect(f"/v1/jobs/{crew.job}/stream"),
    ):
        pass
    assert denial.value.status_code == 403


def test_a_plain_request_is_told_that_this_is_a_websocket(at_photo_step):
    answer = at_photo_step.technician.get(f"/v1/jobs/{at_photo_step.job}/stream")
    assert answer.status_code == 426
    assert answer.headers["upgrade"] == "websocket"
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_stream_that_floods_does_not_hurt_another(at_photo_step, caller):
    """Two devices at once in one process; the flood is refused, the other is heard and kept."""
    crew = at_photo_step
    flood = caller()
    flood.sign_in("tamsin.oake", device_token=enrol(crew.administrator, "other phone"))
    flood.job = crew.job
    ends = []

    def pour() -> None:
        with Stream(flood) as stream:
            for _ in range(40):
                stream._socket.send_bytes(quiet(1.0))
            stream.to_the_end()
            ends.append((stream.code, stream.reason))

    pouring = threading.Thread(target=pour)
    with Stream(crew.technician) as stream:
        stream.until("ready")
        pouring.start()
        stream.play(sound(0.5, "9_3b_open", 3.0))
        stream.close()
    pouring.join(40)
    assert ends[0][0] == 1008
    assert "30 s ahead" in ends[0][1]
    assert [one["hearing"]["verdict"] for one in stream.of("recorded")] == ["heard"]


def test_when_nothing_can_be_kept_the_device_is_told_what_to_send_again(at_photo_step, house, monkeypatch):
    crew = at_photo_step
    monkeypatch.setattr(house.ports.media, "_floor_bytes", 1 << 60)
    count = len(entries(crew))
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, "9_3b_open", 3.0))
        stream.to_the_end()
    assert stream.code == 1013
    assert "send them as a clip" in stream.reason
    assert stream.of("recorded") == []
    assert len(entries(crew)) == count


def test_a_reason_is_cut_to_what_a_closing_message_holds():
    assert len(StreamEnds(1008, "ä" * 200).shown.encode()) <= MOST_REASON


def test_what_was_said_before_a_stream_of_opus_broke_is_kept(at_photo_step):
    raw = opus_stream("webm", sound(0.5, "9_3b_open", 1.2))
    with Stream(at_photo_step.technician, encoding="webm") as stream:
        stream.play(raw, 1_500)
        stream.until("claim")
        stream.play(b"\xff" * 600_000, 300_000)
        stream.send({"type": "end"})
        stream.to_the_end()
    assert [one["hearing"]["slots"] for one in stream.of("recorded")] == [
        {"contacts": ["9", "3B"], "state": "open"}
    ]
