"""What the use cases need beside the record: clock, media, tokens, engines, definitions, packages."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Protocol

from service.domain.actuator import Actuator
from service.domain.chart import ContactChart
from service.domain.circuits import Circuits
from service.domain.job_state import JobState
from service.domain.layout import SwitchLayout
from service.domain.procedure import Procedure
from service.journal.heads import SignedHead
from service.ports.rows import Inspected, LinkRow, MediaRow, MediaShape, SeenPhoto, Vocabulary
from service.ports.stream import Listening


class Clock(Protocol):
    """Says what time it is."""

    def now(self) -> datetime:
        """Return the present instant, in UTC."""
        ...


class MediaStore(Protocol):
    """Keeps bytes under the hash of their content."""

    def put(self, content: bytes) -> str:
        """Store `content` and return its SHA-256; durable when this returns, and idempotent.

        Raises TooBusy where the disk is nearly full or the store fails.
        """
        ...

    def get(self, sha256: str) -> bytes:
        """Return the bytes; raises NotFound, and Conflict where the stored bytes no longer have that hash."""
        ...

    def has(self, sha256: str) -> bool:
        """Tell whether bytes of that hash are stored."""
        ...


class Inspector(Protocol):
    """Looks at media before anything decodes it."""

    def shape_of(self, declared: str) -> MediaShape:
        """Return which kind of media a Content-Type announces; raises BadMedia for any that is not taken."""
        ...

    def largest(self, shape: MediaShape) -> int:
        """Return the greatest size of that kind, in bytes."""
        ...

    def inspect(self, content: bytes, declared: str, shape: MediaShape) -> Inspected:
        """Return what the bytes are; raises BadMedia saying what is wrong with them."""
        ...


class Passwords(Protocol):
    """Slow hashes of passwords."""

    def hashed(self, password: str) -> str:
        """Return the hash to store; raises Malformed for one that is too short or too common."""
        ...

    def matches(self, password: str, stored: str | None) -> bool:
        """Compare; takes as long where nothing is stored, so that nobody learns which names exist."""
        ...


class Tokens(Protocol):
    """Opaque random tokens, of which only the hash is stored."""

    def new(self) -> str: ...  # noqa: D102
    def digest(self, token: str) -> str: ...  # noqa: D102


class Hearing(Protocol):
    """The ear. What it may hear at a step is given by intents; the talk's own words are always among them."""

    def hear(self, clip: bytes, intents: Sequence[str], vocabulary: Vocabulary) -> Mapping[str, Any]:
        """Return the hearing of a clip (the JSON of `hear`).

        A bad clip is a refused hearing, never an exception.
        """
        ...

    def listen(self, intents: Sequence[str], vocabulary: Vocabulary, encoding: str, rate: int) -> Listening:
        """Begin to listen to a stream in `encoding` (pcm, ogg or webm), with the same phrases as for clips.

        `rate`, in samples a second, is what is declared. Raises BadMedia for what is not heard here.
        """
        ...

    def phrases(self, vocabulary: Vocabulary) -> bytes:
        """Return every phrase with these names as JSON lines, to be pinned."""
        ...

    def read_back(self, intent: str, slots: Mapping[str, Any]) -> str:
        """Return the sentence that is given back for what was understood."""
        ...

    def fingerprint(self) -> str:
        """Return the version of the ear and of its model."""
        ...


class Reading(Protocol):
    """The eye."""

    def read(
        self,
        photo: bytes,
        layout: bytes,
        chart: ContactChart,
        reference: bytes | None = None,
        upper_edge: tuple[float, float] | None = None,
    ) -> SeenPhoto:
        """Return what a photo shows of the chart's contacts.

        `reference` is the layout's own photo, by which the switch is found where no tags are. `upper_edge` is where
        a person tapped the switch's upper edge: shares of width and height of the upright picture.
        A bad photo is a refused reading, never an exception.
        """
        ...

    def fingerprint(self) -> str:
        """Return the version of the eye and of its tables."""
        ...


class Definitions(Protocol):
    """Turns definition files into plain values; each raises BadDefinition with the field at fault."""

    def layout(self, text: bytes) -> SwitchLayout: ...  # noqa: D102 - the names say it
    def chart(self, text: bytes, layout: SwitchLayout) -> ContactChart: ...  # noqa: D102
    def circuits(self, text: bytes, layout: SwitchLayout) -> Circuits: ...  # noqa: D102
    def actuator(self, text: bytes) -> Actuator: ...  # noqa: D102
    def procedure(self, text: bytes) -> Procedure: ...  # noqa: D102
    def shipped_procedure(self, name: str) -> bytes:
        """Return the file of a procedure that comes with the service.

        Raises NotFound naming those there are.
        """
        ...


class Packages(Protocol):
    """Builds the package of a job."""

    def build(
        self,
        sealed: Sequence[tuple[bytes, bytes | None]],
        head: SignedHead,
        media: Sequence[tuple[MediaRow, LinkRow]],
        state: JobState,
    ) -> bytes:
        """Return the package as a zip; the same journal head gives the same bytes.

        `state` is what the domain makes of exactly these entries.
        """
        ...
