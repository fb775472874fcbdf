"""The error tree of the ear.

SpeechRefusal
├── ClipRefused     a clip that cannot be heard at all: not audio, too long, too quiet, only noise
├── PhrasesRefused  a phrase file or a phrase folder that cannot be used
└── ModelRefused    a folder that is not a Vosk model

Every message is a sentence for a person. A clip in which nothing was understood is no error but a
Hearing with the verdict `refused`.
"""


class SpeechRefusal(Exception):  # noqa: N818 - a refusal is an answer, not a defect
    """Anything the ear declines to work on; the message says why."""


class ClipRefused(SpeechRefusal):
    """A clip that cannot be heard: what it is instead of a usable clip."""


class PhrasesRefused(SpeechRefusal):
    """A phrase list or phrase folder that cannot be used: which line, and why."""


class ModelRefused(SpeechRefusal):
    """A folder that is not a Vosk model: which part is missing."""
