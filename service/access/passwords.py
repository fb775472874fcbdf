"""Slow hashes of passwords.

Argon2id, with the lengths of OWASP ASVS 5.0 section 6.2 and no rules of composition.
"""

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from service.domain.refusals import Malformed

LONGEST = 256
"""Characters.

Far above the 64 that must be taken, low enough that hashing cannot be used to tie up the service.
"""

OFTEN_TRIED = frozenset(
    {
        "password",
        "passwort",
        "123456",
        "1234567890",
        "qwerty",
        "qwertyuiop",
        "letmein",
        "welcome",
        "administrator",
        "changeme",
        "iloveyou",
        "valve",
        "abc",
        "111111",
        "000000",
    },
)
"""Words that are tried first.

A password that is one of them repeated, or with digits behind it, is refused.
"""


class Argon2Passwords:
    """Implements `ports.Passwords`. `memory_kib` is the memory of one hash, `shortest` the least length."""

    def __init__(self, memory_kib: int = 65536, shortest: int = 12) -> None:
        self._hasher = PasswordHasher(memory_cost=memory_kib, time_cost=3, parallelism=1)
        self._shortest = shortest
        self._nobody = self._hasher.hash("nobody has this password")

    def hashed(self, password: str) -> str:
        """Return the hash to store.

        Raises Malformed for a password that is too short, too long or often tried.
        """
        if not self._shortest <= len(password) <= LONGEST:
            raise Malformed(f"A password has {self._shortest} to {LONGEST} characters.", field="password")
        if is_often_tried(password):
            raise Malformed("This password is among those tried first; take another.", field="password")
        return self._hasher.hash(password)

    def matches(self, password: str, stored: str | None) -> bool:
        """Compare; takes as long where nothing is stored."""
        try:
            return self._hasher.verify(stored or self._nobody, password[: LONGEST + 1]) and stored is not None
        except (VerificationError, InvalidHashError):
            return False


def is_often_tried(password: str) -> bool:
    """Tell whether a password is one often tried word, repeated or with digits around it."""
    bare = password.lower().strip("0123456789!?. ")
    if not bare:
        return len(set(password)) <= 10
    return any(bare == word * (len(bare) // len(word)) for word in OFTEN_TRIED)
