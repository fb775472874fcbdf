"""The messages of a stream: what a device says of its sound, in text beside the sound in binary messages."""

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, TypeAdapter

from service.api.wire import Message

Step = Annotated[str, Field(min_length=1, max_length=100)]
Second = Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)]
Entry = Annotated[int, Field(ge=0, le=2**53 - 1)]


class Open(Message):
    """The first message: the step, how the sound is coded, the device's clock."""

    type: Literal["open"]
    step: Step = Field(examples=["closed_end"])
    encoding: Literal["pcm", "ogg", "webm"] = Field(
        "pcm", description="pcm: 16 kHz mono 16 bit little endian; ogg, webm: one stream of Opus."
    )
    rate: int = Field(16000, ge=1, le=1_000_000, description="Samples a second; 16000 for pcm.")
    channels: int = Field(1, ge=1, le=64, description="1 for pcm.")
    device_time: AwareDatetime | None = Field(None, description="Wall clock of the device while sending.")
    known_seq: Entry | None = Field(None, description="Newest entry that the person has been told of.")


class Speaking(Message):
    """The device begins or ends to speak itself; `text` is what it says, so that it is not taken for a person."""

    type: Literal["speaking"]
    state: Literal["begins", "ends"]
    text: str = Field("", max_length=2000)


class Known(Message):
    """The person has been told of entries up to this one: their read-backs were spoken or shown."""

    type: Literal["known"]
    seq: Entry


class Number(Message):
    """The number in the device's line that an utterance shall have; without it, the next that is free."""

    type: Literal["number"]
    utterance: int = Field(ge=1, le=2**31)
    device_seq: int = Field(ge=1, le=2**53 - 1)


class ChangeStep(Message):
    """From here on the device shows another step."""

    type: Literal["step"]
    step: Step


class Clock(Message):
    """The answer to a question of the service's clock: how much sound had been recorded, in seconds."""

    type: Literal["clock"]
    number: int = Field(ge=1)
    recorded_s: Second


class End(Message):
    """Nothing more comes; what was said is decided and kept, then the service closes."""

    type: Literal["end"]


KINDS = ("open", "speaking", "known", "number", "step", "clock", "end")
"""What a text message may be."""

Control = Annotated[Open | Speaking | Known | Number | ChangeStep | Clock | End, Field(discriminator="type")]
CONTROL: TypeAdapter[Control] = TypeAdapter(Control)
