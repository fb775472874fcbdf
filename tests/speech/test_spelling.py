import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.spelling import label_words, letters, signs, spell, spelled

ICAO = "ICAO Annex 10, volume II, 5.2.1.3 (spelling alphabet); ITU Radio Regulations, Appendix 14"
ALPHABET = [
    "Alfa",
    "Bravo",
    "Charlie",
    "Delta",
    "Echo",
    "Foxtrot",
    "Golf",
    "Hotel",
    "India",
    "Juliett",
    "Kilo",
    "Lima",
    "Mike",
    "November",
    "Oscar",
    "Papa",
    "Quebec",
    "Romeo",
    "Sierra",
    "Tango",
    "Uniform",
    "Victor",
    "Whiskey",
    "Xray",
    "Yankee",
    "Zulu",
]


@pytest.mark.outside(source=ICAO)
def test_the_published_alphabet_spells_the_whole_alphabet():
    assert spelled([word.lower() for word in ALPHABET]) == string.ascii_uppercase


@pytest.mark.outside(source=ICAO)
def test_the_published_word_is_the_one_that_is_read_back():
    assert spell(string.ascii_uppercase).split() == [word.lower() for word in ALPHABET]


def test_the_two_common_other_spellings_are_heard_too():
    assert spelled(["alpha", "juliet"]) == "AJ"


def test_no_spelling_word_stands_for_two_signs():
    assert len(letters()) == 28
    assert set(signs().values()) == set(string.ascii_uppercase + string.digits)


@pytest.mark.parametrize("said", ["", "bravo banana", "be", "b", "no", "november no"])
def test_words_outside_the_alphabet_spell_nothing(said):
    assert spelled(said.split()) is None


@given(st.text(string.ascii_uppercase + string.digits, min_size=1, max_size=8))
def test_every_tag_is_understood_as_it_is_spelled(tag):
    assert spelled(spell(tag).split()) == tag


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ("1", "one"),
        ("12", "twelve"),
        ("24", "twenty four"),
        ("3B", "three bravo"),
        ("R1 upper left", "rotor one upper left"),
        ("R3", "rotor three"),
        ("LS-1", "lima sierra one"),
    ],
)
def test_contact_labels_are_said_as_a_technician_says_them(label, words):
    assert label_words(label) == words


def test_a_label_with_a_sign_that_cannot_be_said_has_no_words():
    assert label_words("9#") is None
