"""What a stream hears: sound and remarks of the device in, messages out; every utterance is kept when it is whole.

Nothing in here waits for the network: all of it runs in the listeners' threads, one call at a time.
"""

import json
import math
import uuid
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from service.api.stream_endings import LATER, StreamEnds
from service.api.stream_wire import ChangeStep, Clock, Control, Known, Number, Open, Speaking
from service.domain.refusals import TooBusy
from service.domain.stream_clock import StreamClock
from service.ports import Asker, Ports, stamp
from service.ports.stream import (
    ClaimWithdrawn,
    OwnVoiceHeard,
    PartialWords,
    StreamEvent,
    Utterance,
    UtteranceEnded,
)
from service.use_cases.listen import Kept, Origin, begin_listening, intents_for, keep_utterance

PIECE: Final = {"pcm": 32_000, "ogg": 4_000, "webm": 4_000}
"""Bytes heard in one call: about a second of sound."""

Tell = Callable[[dict[str, Any]], None]
"""Sends a message to the device; may be called from any thread."""


class StreamEar:
    """Listens to one stream of a job for a person, and keeps what was said; loads the phrases when made."""

    def __init__(self, ports: Ports, asker: Asker, job: str, opened: Open, tell: Tell) -> None:
        self.id = str(uuid.uuid4())
        self._ports, self._asker, self._job, self._tell = ports, asker, job, tell
        self._step, self.piece = opened.step, PIECE[opened.encoding]
        self._listening = begin_listening(ports, asker, job, opened.step, opened.encoding, opened.rate)
        now = ports.clock.now().timestamp()
        self._clock = StreamClock.begun(now)
        said = opened.device_time
        self._zone = (said.tzinfo if said else None) or UTC
        self._device_ahead_s = said.timestamp() - now if said else 0.0
        self._told = [] if opened.known_seq is None else [(0.0, opened.known_seq)]
        self._asked: dict[int, float] = {}
        self._numbers: dict[int, int] = {}
        self._claimed: dict[int, tuple[Any, ...]] = {}

    def hear(self, piece: bytes, at: float) -> None:
        """Hear a piece of sound that was received at `at`, in seconds of the service's clock."""
        self._pass_on(self._listening.hear(piece))
        if self._listening.now_s > 0:
            self._clock = self._clock.arrived(at, self._listening.now_s)

    def note(self, message: Control, at: float) -> None:
        """Take in what the device says beside its sound."""
        match message:
            case Speaking(state="begins"):
                self._pass_on(self._listening.own_voice(message.text))
            case Speaking():
                self._listening.own_voice_ended()
            case Known():
                self._told.append((self._listening.now_s, message.seq))
            case Number():
                self._numbers[message.utterance] = message.device_seq
            case Clock():
                asked = self._asked.pop(message.number, None)
                if asked is not None:
                    self._clock = self._clock.answered(asked, at, message.recorded_s)
            case ChangeStep():
                self._pass_on(
                    self._listening.change(intents_for(self._ports, self._asker, self._job, message.step))
                )
                self._step = message.step

    def asked(self, number: int, at: float) -> None:
        """Remember when the device was asked how much it has recorded."""
        self._asked[number] = at

    def finish(self) -> None:
        """Nothing more comes: decide what is left, and keep it."""
        self._pass_on(self._listening.close())

    def _pass_on(self, events: Iterable[StreamEvent]) -> None:
        """Tell each event as soon as it is known, and keep what is final."""
        for event in events:
            match event:
                case PartialWords():
                    self._tell({"type": "partial", "text": event.text, "at_s": round(event.at_s, 2)})
                case UtteranceEnded():
                    self._tell({"type": "utterance_end", "at_s": round(event.at_s, 2)})
                case OwnVoiceHeard():
                    self._tell({"type": "own_voice", "text": event.text, "at_s": round(event.at_s, 2)})
                case ClaimWithdrawn():
                    self._tell({"type": "withdrawn", "utterance": event.number, "reason": event.reason})
                case Utterance(final=True):
                    self._keep(event)
                case Utterance():
                    self._claimed[event.number] = _meaning(event.hearing)
                    self._tell(self._as_heard(event))

    def _as_heard(self, utterance: Utterance) -> dict[str, Any]:
        hearing = utterance.hearing
        heard = hearing["verdict"] == "heard"
        instant, within = self._clock.instant(utterance.start_s)
        words = [
            {
                "word": word["word"],
                "start_s": round(utterance.start_s + word["start"], 2),
                "end_s": round(utterance.start_s + word["end"], 2),
            }
            for word in hearing["words"]
        ]
        message: dict[str, Any] = {
            "type": "claim" if heard else "refusal",
            "utterance": utterance.number,
            "hearing": dict(hearing),
            "restricts": utterance.restricts,
            "doubts": list(utterance.doubts),
            "read_back": self._read_back(hearing) if heard else "",
            "standing_by": self._listening.asleep,
            "start_s": round(utterance.start_s, 3),
            "end_s": round(utterance.end_s, 3),
            "words": words,
            "word_within_s": utterance.uncertainty_s,
            "started": stamp(datetime.fromtimestamp(instant, UTC)),
            "started_within_s": round(within, 3) if math.isfinite(within) else None,
        }
        if hearing["intent"] == "mark" and words:
            message["mark"] = self._mark(words[0]["start_s"], utterance.uncertainty_s)
        return message

    def _mark(self, second: float, uncertainty_s: float) -> dict[str, Any]:
        """When the word was said, in the stream and on the service's clock, each with its half-width."""
        instant, within = self._clock.instant(second)
        known = math.isfinite(within)
        return {
            "at_s": second,
            "within_s": uncertainty_s,
            "instant": stamp(datetime.fromtimestamp(instant, UTC)),
            "instant_within_s": round(within + uncertainty_s, 3) if known else None,
        }

    def _read_back(self, hearing: Mapping[str, Any]) -> str:
        return self._ports.hearing.read_back(hearing["intent"], hearing["slots"])

    def _keep(self, utterance: Utterance) -> None:
        origin = Origin(
            item=self._ports.new_id(),
            step=self._step,
            device_time=self._device_time(utterance.start_s),
            boot_id=f"stream {self.id}",
            monotonic_ns=round(utterance.start_s * 1e9),
            device_seq=self._numbers.pop(utterance.number, None),
            known_seq=self._known_at(utterance),
        )
        try:
            kept = keep_utterance(self._ports, self._asker, self._job, utterance, origin)
        except TooBusy as busy:
            where = f"{utterance.start_s:.1f} to {utterance.end_s:.1f} s were not kept: send them as a clip."
            raise StreamEnds(LATER, f"{where} {busy}", busy) from busy
        said = self._claimed.pop(utterance.number, None)
        if kept.hearing is not None and said is not None and _meaning(kept.hearing) != said:
            self._tell(
                {
                    "type": "withdrawn",
                    "utterance": utterance.number,
                    "reason": "The sound that was kept was heard differently.",
                }
            )
        self._tell(_as_recorded(utterance, origin, kept))

    def _device_time(self, second: float) -> str:
        """The device's wall clock at a second of the stream, in the device's own zone."""
        instant, _ = self._clock.instant(second)
        return (
            (datetime.fromtimestamp(instant, UTC) + timedelta(seconds=self._device_ahead_s))
            .astimezone(self._zone)
            .isoformat()
        )

    def _known_at(self, utterance: Utterance) -> int | None:
        """The newest entry that the person had been told of when the words began."""
        words = utterance.hearing["words"]
        began = utterance.start_s + (words[0]["start"] if words else 0.0)
        return max((seq for at, seq in self._told if at <= began), default=None)


def _meaning(hearing: Mapping[str, Any]) -> tuple[Any, ...]:
    return hearing.get("verdict"), hearing.get("intent"), json.dumps(hearing.get("slots"), sort_keys=True)


def _as_recorded(utterance: Utterance, origin: Origin, kept: Kept) -> dict[str, Any]:
    return {
        "type": "recorded",
        "utterance": utterance.number,
        "item": origin.item,
        "device_seq": kept.device_seq,
        "media": kept.media,
        "entry": kept.entry,
        "pending": kept.pending,
        "heard_entry": kept.heard_entry,
        "hearing": dict(kept.hearing) if kept.hearing is not None else None,
        "read_back": kept.read_back,
        "effect": kept.effect,
        "job": kept.status,
        "to_s": round(utterance.end_s, 3),
    }
