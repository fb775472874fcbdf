"""Names in a package from a stranger: which are accepted, and which stand for two files."""

import pytest

from service.package.paths import ENTRY_FILE, envelope_path, path_fault, payload_path, twins


@pytest.mark.outside(source="BagIt conformance suite, linux-only and invalid: names that lead out of the bag")
@pytest.mark.parametrize(
    "path",
    [
        "/etc/passwd",
        "../a",
        "data/../../a",
        "data/./a",
        "data//a",
        "~/a",
        "data/~root",
        "C:/a",
        "c:a",
        "a\\b",
        "",
        "data/",
    ],
)
def test_a_name_that_leads_out_or_nowhere_is_not_accepted(path):
    assert path_fault(path)


@pytest.mark.parametrize(
    "path", ["a\n", "a\x00b", "\u202ea", "nul", "data/COM1.txt", "a.", "data/a ", "a" * 241]
)
def test_a_name_that_is_another_file_elsewhere_is_not_accepted(path):
    assert path_fault(path)


@pytest.mark.parametrize(
    "path", ["bagit.txt", "data/media/" + "0" * 64 + ".jpg", "data/ü/größe.txt", "a-b_c.d"]
)
def test_a_plain_name_is_accepted(path):
    assert path_fault(path) is None


@pytest.mark.outside(
    source="BagIt conformance suite, warning: names that differ only in case or in normalisation"
)
def test_names_that_some_systems_take_for_one_are_paired():
    assert list(twins(["data/A", "data/a", "data/é", "data/e\u0301", "data/b"])) == [
        ("data/A", "data/a"),
        ("data/é", "data/e\u0301"),
    ]


def test_the_file_of_an_entry_names_its_number():
    for seq in (0, 7, 99_999, 123_456):
        for path in (envelope_path(seq), payload_path(seq)):
            assert int(ENTRY_FILE.fullmatch(path)[1]) == seq
