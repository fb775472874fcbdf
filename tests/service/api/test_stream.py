"""A stream through the web: understood, kept as a clip like any other, and confirmed only by a person."""

import hashlib
import io
import json

import av
import pytest

from service.domain.moments import moment_of
from service.use_cases.job_record import load_job
from service.use_cases.sign_in import recognise
from tests.builders import new_id
from tests.driving import open_sample_job
from tests.service.api.streams import CLIPS, Stream, entries, opus_stream, quiet, sound, spoken, waited_for

CONTACTS = "9_3b_open"
TRUTH = json.loads((CLIPS / "truth.json").read_text())


def before(crew, *kinds: str) -> int:
    return len([one for one in entries(crew) if one["kind"] in kinds])


def test_an_utterance_is_a_clip_of_the_job_with_its_very_samples_and_waits_for_its_read_back(at_photo_step):
    crew = at_photo_step
    pcm = sound(0.5, CONTACTS, 3.0)
    with Stream(crew.technician) as stream:
        stream.play(pcm)
        messages = stream.close()
    assert stream.code == 1000
    assert [kind for kind in stream.kinds() if kind not in {"partial", "clock"}] == [
        "ready",
        "utterance_end",
        "claim",
        "recorded",
    ]
    claim, kept = stream.of("claim")[0], stream.of("recorded")[0]
    assert claim["hearing"]["slots"] == kept["hearing"]["slots"] == {"contacts": ["9", "3B"], "state": "open"}
    assert claim["read_back"] == kept["read_back"] != ""
    assert any(one["type"] == "partial" and one["text"] for one in messages[: messages.index(claim)])
    stored = crew.technician.get(f"/v1/media/{kept['media']}")
    assert stored.headers["content-type"] == "audio/wav"
    first = round(claim["start_s"] * 16_000) * 2
    assert stored.content[44:] == pcm[first : first + len(stored.content) - 44]
    assert hashlib.sha256(stored.content).hexdigest() == kept["media"]
    view = crew.technician.view()
    assert [one["item"] for one in view["read_backs"]] == [kept["item"]]
    assert view["being_worked_on"] == []


def test_the_same_sound_put_as_a_clip_is_heard_alike(at_photo_step, work_off):
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, CONTACTS, 3.0))
        stream.close()
    (kept,) = stream.of("recorded")
    crew.technician.seq = kept["device_seq"]
    body = {"kind": "clip", "step": "closed_end", "media": kept["media"]}
    crew.technician.ok(crew.technician.item(body, new_id()))
    assert work_off() == 1
    same = [one["body"]["hearing"] for one in entries(crew) if one["kind"] == "clip_heard"][-1]
    told = ("verdict", "text", "intent", "slots", "confidence", "words", "hearer", "phrases")
    assert {name: same[name] for name in told} == {name: kept["hearing"][name] for name in told}


def test_a_spoken_confirmation_counts_once_the_device_has_given_the_read_back(at_photo_step):
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, CONTACTS, 3.0))
        claim = stream.until("recorded")
        stream.send({"type": "known", "seq": claim["heard_entry"]})
        stream.play(sound("read_back_right", 3.0))
        right = stream.until("recorded")
        stream.close()
    assert right["hearing"]["slots"] == {"action": "read_back_right"}
    assert crew.technician.view()["read_backs"] == []
    assert right["effect"] == ""


def test_a_confirmation_before_any_read_back_was_given_confirms_nothing(at_photo_step):
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, CONTACTS, 3.0, "read_back_right", 3.0))
        stream.close()
    claim, right = stream.of("recorded")
    assert right["hearing"]["slots"] == {"action": "read_back_right"}
    assert "before the read-back" in right["effect"]
    assert [one["item"] for one in crew.technician.view()["read_backs"]] == [claim["item"]]


def test_the_services_own_read_back_in_the_microphone_confirms_nothing(at_photo_step):
    """The phone says the sentence, and how to confirm it, loud enough for its own microphone."""
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, CONTACTS, 3.0))
        claim = stream.until("recorded")
        stream.send({"type": "known", "seq": claim["heard_entry"]})  # it is on the screen already
        own = "Contacts nine and three bravo are open. Say: read back is right."
        stream.send({"type": "speaking", "state": "begins", "text": own})
        stream.play(sound("own_voice_contacts", 0.4, "own_voice_read_back_is_right"))
        stream.send({"type": "speaking", "state": "ends"})
        stream.play(quiet(2.5))
        stream.close()
    assert len(stream.of("recorded")) == 1
    assert stream.of("own_voice")
    assert [one["item"] for one in crew.technician.view()["read_backs"]] == [claim["item"]]


def test_without_the_words_it_says_the_devices_own_voice_still_confirms_nothing(at_photo_step):
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, CONTACTS, 3.0))
        claim = stream.until("recorded")
        stream.send({"type": "known", "seq": claim["heard_entry"]})
        stream.send({"type": "speaking", "state": "begins"})
        stream.play(sound("own_voice_read_back_is_right", 0.3))
        stream.send({"type": "speaking", "state": "ends"})
        stream.play(quiet(2.5))
        stream.close()
    own = stream.of("recorded")[-1]
    assert own["utterance"] != claim["utterance"]
    assert "device itself" in own["effect"]
    assert [one["item"] for one in crew.technician.view()["read_backs"]] == [claim["item"]]


def test_stop_acts_while_the_stream_goes_on(at_photo_step):
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, "stop_work"))
        kept = stream.until("recorded")
        assert kept["job"] == "stopped"
        assert crew.technician.view()["status"] == "stopped"
        stream.close()
    assert before(crew, "gate_held", "work_stopped") >= 0
    assert (
        len([one for one in stream.of("recorded") if one["hearing"]["slots"] == {"action": "stop_work"}]) == 1
    )


def test_a_claim_taken_back_in_the_same_breath_is_withdrawn_and_never_waits_for_a_read_back(at_photo_step):
    crew = at_photo_step
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, "contact_nine_closed", 0.5, "no_it_is_not_closed", 3.0))
        stream.close()
    (claim,), (withdrawn,) = stream.of("claim"), stream.of("withdrawn")
    assert withdrawn["utterance"] == claim["utterance"]
    assert withdrawn["reason"]
    assert all(one["utterance"] != claim["utterance"] for one in stream.of("recorded"))
    assert stream.of("recorded")
    assert crew.technician.view()["read_backs"] == []


def test_a_connection_that_breaks_inside_a_word_loses_nothing(at_photo_step):
    crew = at_photo_step
    clips = before(crew, "clip_taken_in")
    pcm = sound(0.5, CONTACTS)
    cut = pcm[: int(len(pcm) * 0.72) // 2 * 2]
    with Stream(crew.technician) as stream:
        stream.play(cut)
        stream.until("partial")
        stream.vanish()
        taken = waited_for(crew, "clip_taken_in", clips + 1)[-1]
        result = waited_for(crew, "clip_heard", clips + 1)[-1]
    stored = crew.technician.get(f"/v1/media/{taken['body']['media']}").content
    assert pcm.startswith(cut)
    assert cut.endswith(stored[44:])
    hearing = result["body"]["hearing"]
    assert hearing["verdict"] == "refused" or taken["body"]["doubts"]
    assert hearing["verdict"] == "heard" or hearing["reason"]


@pytest.mark.parametrize("encoding", ["ogg", "webm"])
def test_a_stream_of_opus_is_heard_and_kept_as_its_packets(at_photo_step, encoding):
    crew = at_photo_step
    raw = opus_stream(encoding, sound(0.5, CONTACTS, 3.0))
    with Stream(crew.technician, encoding=encoding, rate=48_000) as stream:
        stream.play(raw, 1_500)
        stream.close()
    (kept,) = stream.of("recorded")
    assert kept["hearing"]["slots"] == {"contacts": ["9", "3B"], "state": "open"}
    stored = crew.technician.get(f"/v1/media/{kept['media']}")
    assert stored.headers["content-type"] == "audio/ogg"
    assert set(packets(stored.content)) <= set(packets(raw))


def packets(raw: bytes) -> list[bytes]:
    with av.open(io.BytesIO(raw)) as container:
        return [bytes(packet) for packet in container.demux(audio=0) if packet.size]


def test_a_device_may_number_an_utterance_itself(at_photo_step):
    crew = at_photo_step
    number = crew.technician.seq + 1
    crew.technician.seq = number
    later = crew.technician.ok(
        crew.technician.item({"kind": "statement", "step": "closed_end", "intent": "note", "slots": {}})
    )
    assert later["pending"]
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, CONTACTS, 1.2))
        claim = stream.until("claim")
        stream.send({"type": "number", "utterance": claim["utterance"], "device_seq": number})
        stream.play(quiet(2.0))
        stream.close()
    (kept,) = stream.of("recorded")
    assert kept["device_seq"] == number
    assert not kept["pending"]
    assert crew.technician.view()["pending"] == {}


def test_word_times_are_of_the_stream_and_their_instant_is_bounded(at_photo_step, clock):
    crew = at_photo_step
    with Stream(crew.technician, device_time="2031-05-06T11:08:09+02:00") as stream:
        stream.play(sound(1.5, CONTACTS, 2.0))
        asked = stream.until("clock")
        stream.send({"type": "clock", "number": asked["number"], "recorded_s": 0.0})
        stream.play(quiet(1.0))
        stream.close()
    (claim,) = stream.of("claim")
    words = claim["words"]
    assert words[0]["start_s"] == pytest.approx(
        claim["start_s"] + claim["hearing"]["words"][0]["start"], abs=0.02
    )
    assert words[0]["start_s"] > 1.5
    assert claim["word_within_s"] > 0
    taken = [one for one in entries(crew) if one["kind"] == "clip_taken_in"][-1]
    assert taken["boot_id"] == f"stream {stream.of('ready')[0]['stream']}"
    assert taken["monotonic_ns"] == pytest.approx(claim["start_s"] * 1e9, abs=1e6)
    assert taken["device_time"].endswith("+02:00")
    assert claim["started"].startswith(clock.now().isoformat()[:13])


def test_another_step_may_be_shown_while_the_stream_goes_on(at_photo_step):
    crew = at_photo_step
    with Stream(crew.technician, step="prepare") as stream:
        stream.play(sound(0.5, CONTACTS, 2.5))
        stream.send({"type": "step", "step": "closed_end"})
        stream.play(sound(0.5, CONTACTS, 3.0))
        stream.close()
    understood = [one["type"] for one in stream.messages if one["type"] in {"claim", "refusal"}]
    assert understood[-1] == "claim"
    assert set(understood[:-1]) == {"refusal"}
    steps = [one["body"]["step"] for one in entries(crew) if one["kind"] == "clip_taken_in"]
    assert steps[-len(understood) :] == [*["prepare"] * (len(understood) - 1), "closed_end"]


def test_while_standing_by_nothing_is_kept_but_stop(at_photo_step):
    crew = at_photo_step
    clips = before(crew, "clip_taken_in")
    with Stream(crew.technician) as stream:
        stream.play(sound(0.5, "stand_by", 3.0, CONTACTS, 2.5))
        stream.play(sound("stop_work", 1.0))
        stream.close()
    said = [one["hearing"]["slots"] for one in stream.of("recorded")]
    assert said == [{"action": "stand_by"}, {"action": "stop_work"}]
    assert stream.of("claim")[0]["standing_by"]
    assert before(crew, "clip_taken_in") == clips + 2


@pytest.mark.outside(
    source="flite 2.2, -psdur: end times of the phones that it synthesised, printed by the synthesizer itself"
)
def test_two_spoken_marks_are_as_far_apart_as_their_words_whenever_they_are_delivered(crew, house, clock):
    """The sound comes faster than time passes, and the marks are recorded at one instant of the service's clock."""
    technician = crew.technician
    people = {person: [role] for role, person in crew.people.items()}
    technician.job = open_sample_job(crew.administrator, people, "default")
    with Stream(technician, step="stroke_closing") as stream:
        stream.play(sound(1.0, "mark_start_of_stroke", 5.5, "mark_end_of_stroke", 3.0), chunk=16_000)
        stream.close()
    start, end = (one["mark"] for one in stream.of("claim"))
    between = len(spoken("mark_start_of_stroke")) / 32_000 + 5.5
    first, last = (
        TRUTH[name]["words"][0]["start"] for name in ("mark_start_of_stroke", "mark_end_of_stroke")
    )
    assert start["within_s"] == end["within_s"] <= 0.1
    assert start["at_s"] == pytest.approx(1.0 + first, abs=start["within_s"])
    assert end["at_s"] - start["at_s"] == pytest.approx(between + last - first, abs=2 * start["within_s"])
    assert start["instant_within_s"] >= start["within_s"]
    asker = recognise(house.ports, technician.http.headers["Authorization"].removeprefix("Bearer "))
    with house.ports.transactions.reading() as tx:
        items = load_job(house.ports, tx, asker.site_id, technician.job).state.items.values()
    one, other = (moment_of(item.entry).moved(item.first_word_s) for item in items)
    assert one.line == other.line
    assert other.monotonic_s - one.monotonic_s == pytest.approx(end["at_s"] - start["at_s"], abs=0.02)
