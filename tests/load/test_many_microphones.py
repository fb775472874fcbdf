"""Four microphones at one service over real sockets: who floods, vanishes or does not read hurts nobody else."""

import json
import socket
import struct
import threading
import time
from base64 import b64encode
from pathlib import Path

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from tests.driving import Service, add_person, enrol, first_administrator, open_sample_job
from tests.service.api.streams import quiet, sound

STEP = {"type": "open", "step": "closed_end"}
PIECE = 6_400

pytestmark = [pytest.mark.load, pytest.mark.timeout(240)]


@pytest.fixture(scope="module")
def phones(tmp_path_factory):
    """The service, a job and the tokens of five phones of one technician, at a running service."""
    with Service(tmp_path_factory.mktemp("house") / "data", streams_limit="4") as service:
        administrator = first_administrator(service)
        person = add_person(administrator, "Ada Birk", "technician")
        job = open_sample_job(administrator, {person: ["technician"]})
        tokens = []
        for number in range(5):
            caller = service.caller()
            caller.sign_in("ada.birk", device_token=enrol(administrator, f"phone {number}"))
            tokens.append(caller.http.headers["Authorization"])
        yield service, job, tokens, administrator


def listened_to(phones, number: int, **more):
    service, job, tokens, _ = phones
    address = service.address.replace("http", "ws") + f"/v1/jobs/{job}/stream"
    return connect(address, additional_headers={"Authorization": tokens[number]}, **more)


def say(phones, number: int, found: dict) -> None:
    """Say two claims at a microphone's pace, and note what came back."""
    with listened_to(phones, number) as stream:
        stream.send(json.dumps(STEP))
        reading = threading.Thread(target=read, args=(stream, found))
        reading.start()
        pcm = sound(0.5, "9_3b_open", 3.0, "17_5a_closed", 3.0)
        for at in range(0, len(pcm), PIECE):
            stream.send(pcm[at : at + PIECE])
            time.sleep(PIECE / 32_000)
        stream.send(json.dumps({"type": "end"}))
        reading.join(60)


def read(stream, found: dict) -> None:
    try:
        for message in stream:
            found.setdefault("messages", []).append(json.loads(message))
    except ConnectionClosed:
        pass
    found["code"], found["reason"] = stream.close_code, stream.close_reason


def flood(phones, number: int, found: dict) -> None:
    with listened_to(phones, number) as stream:
        stream.send(json.dumps(STEP))
        reading = threading.Thread(target=read, args=(stream, found))
        reading.start()
        second = quiet(1.0)
        try:
            for _ in range(200):
                stream.send(second)
        except ConnectionClosed:
            pass
        reading.join(60)


def read_nothing(phones, number: int) -> socket.socket:
    """A device that sends and never reads, with next to no room for what comes back."""
    service, job, tokens, _ = phones
    host, port = service.address.removeprefix("http://").split(":")
    raw = socket.socket()
    raw.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2_048)
    raw.connect((host, int(port)))
    head = (
        f"GET /v1/jobs/{job}/stream HTTP/1.1\r\nHost: {host}\r\nAuthorization: {tokens[number]}\r\n"
        f"Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        f"Sec-WebSocket-Key: {b64encode(bytes(16)).decode()}\r\n\r\n"
    )
    raw.sendall(head.encode())
    raw.sendall(frame(1, json.dumps(STEP).encode()))
    return raw


def frame(kind: int, content: bytes) -> bytes:
    """A frame of RFC 6455, 5.2, masked with zeros."""
    size = len(content)
    length = struct.pack("!B", 0x80 | size) if size < 126 else struct.pack("!BH", 0x80 | 126, size)
    return bytes([0x80 | kind]) + length + bytes(4) + content


def test_who_floods_vanishes_or_does_not_read_does_not_hurt_another(phones):
    service, job, _, administrator = phones
    good, flooded, before = {}, {}, memory_mb(service.process.pid)
    silent = read_nothing(phones, 2)  # its messages are few: it is closed for silence, or at the end
    vanishing = listened_to(phones, 3).__enter__()
    vanishing.send(json.dumps(STEP))
    vanishing.send(sound(0.5, "9_3b_open"))
    threads = [
        threading.Thread(target=say, args=(phones, 0, good)),
        threading.Thread(target=flood, args=(phones, 1, flooded)),
    ]
    for thread in threads:
        thread.start()
    for _ in range(8):
        silent.sendall(frame(2, quiet(0.5)[:32_000]))
    vanishing.socket.shutdown(socket.SHUT_RDWR)
    for thread in threads:
        thread.join(120)
    silent.close()
    kept = [one for one in good["messages"] if one["type"] == "recorded"]
    assert good["code"] == 1000
    assert [one["hearing"]["slots"] for one in kept] == [
        {"contacts": ["9", "3B"], "state": "open"},
        {"contacts": ["17", "5A"], "state": "closed"},
    ]
    assert flooded["code"] == 1008
    assert "ahead" in flooded["reason"]
    ends = time.monotonic() + 60
    while time.monotonic() < ends:
        entries = administrator.ok(administrator.get(f"/v1/jobs/{job}/entries"))
        heard = [one for one in entries if one["kind"] == "clip_heard"]
        if len(heard) >= 3:
            break
        time.sleep(0.2)
    assert len(heard) >= 3  # two claims, and what the vanished one had said
    assert [one["seq"] for one in entries] == list(range(len(entries)))
    print(
        f"\nmemory of the web process: {memory_mb(service.process.pid):.0f} MB at most, {before:.0f} before"
    )


def test_a_fifth_microphone_is_told_to_come_later_and_a_seat_that_is_left_is_free(phones):
    streams = []
    for number in range(4):
        stream = listened_to(phones, number).__enter__()
        stream.send(json.dumps(STEP))
        assert json.loads(stream.recv())["type"] == "ready"
        streams.append(stream)
    fifth: dict = {}
    with listened_to(phones, 4) as stream:
        stream.send(json.dumps(STEP))
        read(stream, fifth)
    assert fifth["code"] == 1013
    assert "4 microphones" in fifth["reason"]
    left: dict = {}
    streams[0].send(json.dumps({"type": "end"}))
    read(streams[0], left)
    assert left["code"] == 1000
    with listened_to(phones, 4) as stream:
        stream.send(json.dumps(STEP))
        assert json.loads(stream.recv())["type"] == "ready"
    for stream in streams:
        stream.close()


def memory_mb(pid: int) -> float:
    status = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines())
    return int(status["VmHWM"].split()[0]) / 1024


def test_a_service_that_is_asked_to_stop_keeps_what_was_said(tmp_path):
    folder = tmp_path / "data"
    with Service(folder) as service:
        administrator = first_administrator(service)
        person = add_person(administrator, "Ada Birk", "technician")
        job = open_sample_job(administrator, {person: ["technician"]})
        caller = service.caller()
        caller.sign_in("ada.birk", device_token=enrol(administrator, "phone"))
        phone = (service, job, [caller.http.headers["Authorization"]], administrator)
        with listened_to(phone, 0) as stream:
            stream.send(json.dumps(STEP))
            stream.send(sound(0.5, "9_3b_open", 0.8))
            while json.loads(stream.recv())["type"] != "claim":
                pass
            assert service.stop() == 0
    with Service(folder) as again:
        caller = again.caller()
        caller.sign_in("administrator")
        entries = caller.ok(caller.get(f"/v1/jobs/{job}/entries"))
        assert [one["kind"] for one in entries if one["kind"].startswith("clip")] == [
            "clip_taken_in",
            "clip_heard",
        ]
