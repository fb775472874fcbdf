"""Definition files that cannot even be read as one."""

import pytest

from service.definitions.documents import LIMIT_BYTES, MOST_PARTS, path_of, read_document, schema_of
from service.domain.refusals import BadDefinition


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"a: [1, 2", "not YAML or JSON"),
        (b"a: \x01", "not YAML or JSON"),
        (b"\xff\xfe\x00", "not text in UTF-8"),
        (b"- 1", "not a list of named fields"),
        (b"", "not a list of named fields"),
        (b"a: 1\nb: 2\na: 3", "a is given twice"),
        (b"a: &x [1]\nb: *x", "aliases are not used"),
        (b"a: {b: [1.5, .nan]}", r"a\.b\[1\]: nan is not a finite number"),
        (b"a: -.inf", "not a finite number"),
        (b'{"a": [1, NaN]}', r"a\[1\]: nan is not a finite number"),
        (b'{"a": 1e999}', "a: inf is not a finite number"),
        (b'{"a": 1, "a": 2}', "a is given twice"),
        (b"a: !!python/object/apply:os.system [ls]", "not YAML or JSON"),
        (b'a: {b: "x\\x1b[2Jy"}', r"a\.b: This text holds a character that cannot be printed"),
        (b'"a\\u202eb": 1', r"a\?b: This text holds"),
        (b'"a\\nb": 1', r"a\?b: This text holds"),
        (b"a: " + b"9" * 5000, "cannot be read"),
        (b"[" * 5000, "More than 30 levels"),
        (b"a: " + b"[" * 40 + b"]" * 40, "More than 30 levels"),
        (b'{"a": ' + b"[" * 40 + b"]" * 40 + b"}", r"a\[0\].*: More than 30 levels"),
        (b"a: [" + b"1," * (MOST_PARTS + 1) + b"1]", "more than 60000 parts"),
        (b'{"a": [' + b"1," * (MOST_PARTS + 1) + b"1]}", "more than 60000 parts"),
        (b"a: " + b"x" * LIMIT_BYTES, "more than 1000000"),
    ],
)
def test_a_file_that_is_no_definition_is_refused_with_its_reason(text, words):
    with pytest.raises(BadDefinition, match=words):
        read_document(text, "chart")


def test_a_date_stays_the_text_that_it_is_written_as():
    assert read_document(b"a: 2029-03-04\nb: 2029-13-45", "chart") == {"a": "2029-03-04", "b": "2029-13-45"}


def test_a_path_is_written_as_people_write_it():
    assert path_of(["rotors", 0, "bars", 1, "id"]) == "rotors[0].bars[1].id"


@pytest.mark.parametrize("name", ["layout", "chart"])
def test_each_published_schema_says_which_draft_it_follows(name):
    assert schema_of(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
