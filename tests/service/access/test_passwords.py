import pytest

from service.access.passwords import Argon2Passwords, is_often_tried
from service.domain.refusals import Malformed

passwords = Argon2Passwords(memory_kib=64, shortest=12)


def test_a_password_matches_its_own_hash_alone():
    stored = passwords.hashed("nine grey herons stand")
    assert passwords.matches("nine grey herons stand", stored)
    assert not passwords.matches("nine grey herons stood", stored)
    assert stored.startswith("$argon2id$")


def test_nobody_signs_in_where_no_password_is_stored():
    assert not passwords.matches("nobody has this password", None)


@pytest.mark.outside(
    source="OWASP ASVS 5.0, 6.2.1 and 6.2.9: at least 8 characters, 64 allowed; 6.2.8 no truncation"
)
def test_a_long_password_is_taken_whole():
    long = "x1-" * 30
    stored = passwords.hashed(long)
    assert passwords.matches(long, stored)
    assert not passwords.matches(long[:-1], stored)


@pytest.mark.parametrize("weak", ["short", "password12345", "passwordpassword", "123456789012", "x" * 300])
def test_short_endless_and_often_tried_passwords_are_refused(weak):
    with pytest.raises(Malformed):
        passwords.hashed(weak)


def test_a_word_inside_a_sentence_is_no_often_tried_password():
    assert not is_often_tried("the valve by the third tree")
