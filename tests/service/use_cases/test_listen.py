"""An utterance of a stream is a clip: stored first, taken in once, heard from its stored bytes or by a worker."""

from dataclasses import replace

import pytest

from service.domain.refusals import Conflict, Malformed, NotAllowed
from service.ports.stream import Utterance
from service.use_cases import listen
from service.use_cases.job_record import load_job
from service.use_cases.listen import Origin, begin_listening, keep_utterance
from service.use_cases.sign_in import recognise
from speech.stream_sound import wav_of
from tests.builders import new_id
from tests.service.api.streams import quiet, sound


@pytest.fixture
def asker(at_photo_step, house):
    return recognise(house.ports, at_photo_step.technician.http.headers["Authorization"].split()[1])


def utterance(pcm: bytes, *doubts: str) -> Utterance:
    hearing = {"verdict": "heard", "intent": "contact", "slots": {}, "words": []}
    where = {"start_s": 3.0, "end_s": 5.0, "uncertainty_s": 0.07}
    kept = {"content": wav_of(pcm), "type": "audio/wav", "doubts": doubts, "final": True}
    return Utterance(number=1, hearing=hearing, restricts=False, **where, **kept)


def origin(**more) -> Origin:
    values = {
        "device_time": "2031-05-06T09:08:07+02:00",
        "boot_id": "stream s",
        "monotonic_ns": 3_000_000_000,
    }
    return Origin(**{"item": new_id(), "step": "closed_end", **values, **more})


def record(house, asker, crew):
    with house.ports.transactions.reading() as tx:
        return load_job(house.ports, tx, asker.site_id, crew.job)


def test_keeping_an_utterance_twice_is_keeping_it_once(at_photo_step, house, asker):
    said, once = utterance(sound(0.3, "9_3b_open", 0.5)), origin()
    first = keep_utterance(house.ports, asker, at_photo_step.job, said, once)
    again = keep_utterance(house.ports, asker, at_photo_step.job, said, once)
    assert (first.entry, first.heard_entry, first.device_seq) == (
        again.entry,
        again.heard_entry,
        again.device_seq,
    )
    entries = record(house, asker, at_photo_step).entries
    assert len([one for one in entries if one.id == once.item]) == 1
    with pytest.raises(Conflict):
        keep_utterance(house.ports, asker, at_photo_step.job, utterance(quiet(1.0)), once)


def test_where_the_listener_dies_after_taking_in_a_worker_hears_the_clip(
    at_photo_step, house, asker, monkeypatch, work_off, clock
):
    def dies(*_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(listen, "hear_clip", dies)
    once = origin()
    with pytest.raises(RuntimeError):
        keep_utterance(house.ports, asker, at_photo_step.job, utterance(sound(0.3, "9_3b_open", 0.5)), once)
    assert work_off() == 0  # it is claimed for a while
    clock.pass_(seconds=listen.CLAIM_S + 1)
    assert work_off() == 1
    heard = [one for one in record(house, asker, at_photo_step).entries if one.kind == "clip_heard"]
    assert heard[-1].body["clip"] == once.item
    assert heard[-1].body["hearing"]["slots"] == {"contacts": ["9", "3B"], "state": "open"}


def test_doubts_go_into_the_record_with_the_clip(at_photo_step, house, asker):
    said = utterance(sound(0.3, "9_3b_open", 0.5), "cut_short")
    kept = keep_utterance(house.ports, asker, at_photo_step.job, said, origin())
    assert "ends right at its words" in kept.effect
    state = record(house, asker, at_photo_step).state
    assert state.claims[next(reversed(state.claims))].status == "without_effect"


def test_without_a_device_or_with_a_step_that_there_is_not_nobody_is_listened_to(at_photo_step, house, asker):
    job = at_photo_step.job
    with pytest.raises(NotAllowed):
        begin_listening(house.ports, replace(asker, device_id=None), job, "closed_end", "pcm", 16_000)
    with pytest.raises(Malformed, match="no such step"):
        begin_listening(house.ports, asker, job, "dance", "pcm", 16_000)
