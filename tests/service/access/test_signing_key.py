import multiprocessing

import pytest

from service.access.signing_key import earlier_keys, load_or_create_key
from service.access.tokens import OpaqueTokens
from service.domain.refusals import NotAllowed
from service.journal.keys import BadSigningKey, SigningKey


def test_the_key_is_made_once_and_only_its_owner_may_read_it(tmp_path):
    file = tmp_path / "keys" / "signing-key.pem"
    first = load_or_create_key(file)
    assert load_or_create_key(file).fingerprint == first.fingerprint
    assert file.stat().st_mode & 0o777 == 0o600
    assert [found.name for found in file.parent.iterdir()] == ["signing-key.pem"]


def test_a_key_that_others_can_read_is_refused(tmp_path):
    file = tmp_path / "signing-key.pem"
    load_or_create_key(file)
    file.chmod(0o644)
    with pytest.raises(NotAllowed, match="Others can read"):
        load_or_create_key(file)


def test_earlier_keys_are_read_from_their_public_halves(tmp_path):
    keys = [SigningKey.create() for _ in range(2)]
    for number, key in enumerate(keys):
        (tmp_path / f"until-{number}.pem").write_bytes(key.public_pem)
    assert earlier_keys(tmp_path) == {key.public_key for key in keys}
    assert earlier_keys(tmp_path / "none") == frozenset()


def test_an_earlier_key_that_is_none_is_refused(tmp_path):
    (tmp_path / "private.pem").write_bytes(SigningKey.create().to_pem())
    with pytest.raises(BadSigningKey, match="no public key"):
        earlier_keys(tmp_path)


def _fingerprint(file):
    return load_or_create_key(file).fingerprint


def test_processes_that_start_at_once_end_with_one_key(tmp_path):
    with multiprocessing.get_context("spawn").Pool(3) as pool:
        assert len(set(pool.map(_fingerprint, [tmp_path / "key.pem"] * 6))) == 1


@pytest.mark.outside(
    source="OWASP ASVS 5.0, 7.2.3: session tokens of at least 128 bits from a secure generator"
)
def test_tokens_are_long_enough_and_never_the_same():
    tokens = OpaqueTokens()
    made = {tokens.new() for _ in range(100)}
    assert len(made) == 100
    assert min(map(len, made)) * 6 >= 128
    assert tokens.digest("a") != tokens.digest("b")
