"""The error tree of the house. A refusal's message is a sentence that a person can act on.

    Refusal
      Malformed        the input itself cannot be used
        BadDefinition  a chart, layout, procedure, phrase or job file is missing, contradictory or non-finite
        BadMedia       a photo or clip cannot be used (empty, truncated, mislabelled, too large, not a photo)
      NotSignedIn      nobody is known to be asking
      NotAllowed       the person, role or device may not do this
      NotFound         there is no such thing on this site
      Conflict         what is asked contradicts what is recorded
        Held           a hold point or a stopped job stands in the way
        Outdated       the journal head that the asker saw is no longer the newest
      TooBusy          come back later; says when

Foreign exceptions are translated into one of these at the border where they arise.
"""


class Refusal(Exception):  # noqa: N818 - a refusal is an answer of the program, not a defect of it
    """Something was asked that is not done, for a stated reason.

    `field` names the part of the input that is at fault, as a path ("rotors[0].trip_pct"); `hint` says what to do.
    """

    code = "refused"
    title = "Refused"

    def __init__(self, message: str, *, field: str | None = None, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.hint = hint

    def __str__(self) -> str:
        where = f"{self.field}: " if self.field else ""
        return f"{where}{self.message}" + (f" {self.hint}" if self.hint else "")


class Malformed(Refusal):
    """The input itself cannot be used."""

    code = "malformed"
    title = "This input cannot be used"


class BadDefinition(Malformed):
    """A chart, layout, procedure, phrase or job file is missing something, contradictory or non-finite."""

    code = "bad-definition"
    title = "This definition cannot be used"


class BadMedia(Malformed):
    """A photo or clip cannot be used as evidence."""

    code = "bad-media"
    title = "This photo or clip cannot be used"


class NotSignedIn(Refusal):
    """Nobody is known to be asking; nothing that was received is lost."""

    code = "not-signed-in"
    title = "Sign in first"


class NotAllowed(Refusal):
    """The person, role or device may not do this."""

    code = "not-allowed"
    title = "Not allowed"


class NotFound(Refusal):
    """There is no such thing on this site."""

    code = "not-found"
    title = "Not found"


class Conflict(Refusal):
    """What is asked contradicts what is recorded."""

    code = "conflict"
    title = "This contradicts what is recorded"


class Held(Conflict):
    """A hold point or a stopped job stands in the way."""

    code = "held"
    title = "The job is held"


class Outdated(Conflict):
    """The journal head that the asker saw is no longer the newest."""

    code = "outdated"
    title = "The record has moved on"


class TooBusy(Refusal):
    """A queue or disk limit is reached; `retry_after_s` says when to come again."""

    code = "too-busy"
    title = "Come again later"

    def __init__(self, message: str, *, retry_after_s: int, status: int = 503) -> None:
        super().__init__(message)
        self.retry_after_s = retry_after_s
        self.status = status
