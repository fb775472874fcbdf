"""Tag files and manifests by RFC 8493, written and read."""

import hashlib

import bagit
import pytest

from service.package.bag import BadBagError, bag_info, manifest, payload_oxum, read_bag_info, read_manifest


@pytest.mark.outside(source="RFC 8493 section 2.1.3: only LF, CR and % are percent-encoded in paths")
def test_line_breaks_and_percent_signs_in_names_are_encoded_and_nothing_else():
    digests = {"data/a\nb": "00", "data/c\rd": "11", "data/50% full": "22", "data/ü x": "33"}
    written = manifest(digests)
    assert set(written.decode().splitlines()) == {
        "00  data/a%0Ab",
        "11  data/c%0Dd",
        "22  data/50%25 full",
        "33  data/ü x",
    }
    assert read_manifest(written) == digests


@pytest.mark.outside(
    source="RFC 8493 section 2.1.3: digests in either case, leading './', an asterisk, blank lines"
)
def test_what_other_writers_may_write_is_read():
    assert read_manifest(b"ABCDEF01  ./data/a\n\nabcdef02 *data/b\nabcdef03\tdata/c d\n") == {
        "data/a": "abcdef01",
        "data/b": "abcdef02",
        "data/c d": "abcdef03",
    }


@pytest.mark.outside(
    source="BagIt conformance suite, v1.0/invalid: same name twice, byte-order mark, broken line"
)
@pytest.mark.parametrize(
    "content", [b"00  a\n11  a\n", b"\xef\xbb\xbf00  a\n", b"a\n", b"zz  a\n", b"\xff\xfe"]
)
def test_a_manifest_that_is_none_is_refused(content):
    with pytest.raises(BadBagError):
        read_manifest(content)


@pytest.mark.outside(source="RFC 8493 section 2.2.2, Payload-Oxum: octets, a full stop, streams")
def test_the_oxum_counts_octets_and_files_of_the_payload_alone():
    assert payload_oxum({"data/a": 5, "data/b": 6, "bagit.txt": 55}) == "11.2"


@pytest.mark.outside(source="RFC 8493 section 2.2.2: a value goes on in lines that start with a blank")
def test_continued_lines_of_bag_info_are_joined():
    assert read_bag_info(b"Note: one\n two\n\tthree\nOther: 1\n") == {"Note": "one two three", "Other": "1"}


def test_a_value_cannot_start_a_line_of_its_own():
    written = bag_info([("Note", "one\nPayload-Oxum: 0.0")])
    assert read_bag_info(written) == {"Note": "one Payload-Oxum: 0.0"}


def test_a_line_without_a_label_is_refused():
    with pytest.raises(BadBagError, match="label"):
        read_bag_info(b"no label\n")


@pytest.mark.outside(source="the bagit library 1.9 as a second writer of RFC 8493 manifests")
def test_the_manifest_of_another_writer_says_the_same_of_the_same_files(tmp_path):
    (tmp_path / "a.txt").write_bytes(b"hello")
    bagit.make_bag(str(tmp_path), checksums=["sha256"])
    digests = {"data/a.txt": hashlib.sha256(b"hello").hexdigest()}
    assert digests["data/a.txt"] == "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824"
    assert (tmp_path / "manifest-sha256.txt").read_bytes() == manifest(digests)
