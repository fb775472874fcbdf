"""Entries are sealed into exact bytes and read back from them."""

import json

import pytest

from service.domain.entries import NewEntry
from service.journal.canonical import NotCanonical, canonical
from service.journal.chain import BEFORE_THE_FIRST, REDACTED, AlteredEntry, seal, unseal
from service.journal.digests import sha256_hex
from service.journal.envelope import FIELDS
from tests.service.journal.journals import JOB, NEWS, SITE, salt, sealed


@pytest.mark.outside(source="FIPS 180-4 example vectors: the empty message and 'abc'")
def test_the_hash_is_sha_256():
    assert sha256_hex(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert sha256_hex(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_sealed_entry_is_read_back_as_it_was_made():
    for seq, (new, stored) in enumerate(zip(NEWS, sealed(), strict=True)):
        assert unseal(stored.envelope, stored.payload) == new.sealed(
            seq, f"2026-11-24T09:00:{seq:02d}Z", stored.hash
        )


def test_each_entry_names_the_hash_of_the_envelope_before_it():
    chain = sealed()
    named = [json.loads(stored.envelope)["prev"] for stored in chain]
    assert named == [BEFORE_THE_FIRST, *(sha256_hex(stored.envelope) for stored in chain[:-1])]


def test_an_envelope_has_exactly_the_agreed_fields_in_canonical_bytes():
    for stored in sealed():
        fields = json.loads(stored.envelope)
        assert set(fields) == FIELDS
        assert canonical(fields) == stored.envelope


def test_only_a_payload_about_a_person_is_salted():
    for stored in sealed():
        personal = json.loads(stored.envelope)["personal"]
        assert set(json.loads(stored.payload)) == ({"body", "salt"} if personal else {"body"})


def test_two_salts_hide_that_two_personal_payloads_are_equal():
    new = NewEntry("statement_made", {"intent": "isolation"})
    first, second = (
        seal(BEFORE_THE_FIRST, JOB, SITE, 0, new, "2026-11-24T09:00:00Z", salt(n)) for n in (1, 2)
    )
    assert json.loads(first.envelope)["payload_sha256"] != json.loads(second.envelope)["payload_sha256"]


def test_a_removed_personal_payload_is_shown_as_redacted():
    stored = sealed()[3]
    assert unseal(stored.envelope, None).body == REDACTED


def test_a_payload_that_is_about_no_person_cannot_be_missing():
    stored = sealed()[4]
    with pytest.raises(AlteredEntry, match="missing"):
        unseal(stored.envelope, None)


def test_another_payload_than_the_one_named_is_refused():
    chain = sealed()
    with pytest.raises(AlteredEntry, match="not the one"):
        unseal(chain[4].envelope, chain[2].payload)


@pytest.mark.parametrize("salt_text", ["", "00", "0" * 31])
def test_a_short_salt_is_refused(salt_text):
    with pytest.raises(NotCanonical, match="salt"):
        seal(BEFORE_THE_FIRST, JOB, SITE, 0, NEWS[0], "2026-11-24T09:00:00Z", salt_text)


@pytest.mark.outside(source="RFC 7493 section 2.2: beyond 2**53 - 1 readers may round an integer")
def test_a_number_that_readers_would_round_is_refused_before_it_is_written():
    new = NewEntry("photo_read", {"n": 2.0**53})
    with pytest.raises(NotCanonical, match=r"beyond 2\*\*53"):
        seal(BEFORE_THE_FIRST, JOB, SITE, 0, new, "2026-11-24T09:00:00Z", salt(0))


def test_a_body_that_json_cannot_state_is_refused_before_it_is_written():
    with pytest.raises(NotCanonical):
        seal(
            BEFORE_THE_FIRST,
            JOB,
            SITE,
            0,
            NewEntry("photo_read", {"p": float("nan")}),
            "2026-11-24T09:00:00Z",
            salt(0),
        )


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("seq", -1),
        ("seq", True),
        ("prev", "0" * 63),
        ("prev", "A" * 64),
        ("personal", 1),
        ("kind", ""),
        ("v", 2),
        ("device_seq", "1"),
        ("received", None),
    ],
)
def test_an_envelope_with_an_unusable_field_is_refused(field, value):
    stored = sealed()[1]
    envelope = canonical({**json.loads(stored.envelope), field: value})
    with pytest.raises(AlteredEntry):
        unseal(envelope, stored.payload)


def test_an_envelope_with_a_field_too_many_or_too_few_is_refused():
    fields = json.loads(sealed()[1].envelope)
    for altered in ({**fields, "extra": 1}, {name: fields[name] for name in fields if name != "boot_id"}):
        with pytest.raises(AlteredEntry, match=r"extra|boot_id"):
            unseal(canonical(altered), sealed()[1].payload)
