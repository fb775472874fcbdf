"""Spoken letters and numbers as published: each heard form comes to the value that the source prints."""

import string

import pytest

from speech.spelling import letters, spelled
from speech.spoken_values import digit_by_digit, number

PUBLISHED = (
    "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa "
    "quebec romeo sierra tango uniform victor whiskey xray yankee zulu"
)


@pytest.mark.outside(
    source="ICAO/ITU spelling alphabet, 26 words, Alpha and Juliet also seen (4.2)", confidence="V2"
)
def test_every_word_of_the_spelling_alphabet_is_its_letter():
    assert spelled(PUBLISHED.split()) == string.ascii_uppercase
    assert (letters()["alpha"], letters()["juliet"]) == ("A", "J")


@pytest.mark.outside(
    source="ICAO Annex 10 vol. II 5.2.1.4.3.1: tree, fower, fife, niner (4.2)", confidence="V2"
)
@pytest.mark.parametrize(("word", "digit"), [("tree", 3), ("fower", 4), ("fife", 5), ("niner", 9)])
def test_the_four_digits_whose_sound_is_changed_on_purpose_are_heard(word, digit):
    assert number([word]) == digit


@pytest.mark.outside(source="ICAO Annex 10 vol. II 5.2.1.4.1: digit by digit (4.3)", confidence="V2")
@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("one eight zero", 180),
        ("two zero zero", 200),
        ("one zero zero", 100),
        ("zero eight zero", 80),
        ("two four zero zero", 2400),
        ("four two zero three", 4203),
        ("one zero zero zero", 1000),
    ],
)
def test_numbers_said_digit_by_digit(words, value):
    assert number(words.split()) == value
    if not words.startswith("zero"):
        assert digit_by_digit(value) == words


@pytest.mark.outside(
    source="ICAO Annex 10 vol. II 5.2.1.4.1: whole hundreds and thousands (4.3)", confidence="V2"
)
@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("eight hundred", 800),
        ("three thousand four hundred", 3400),
        ("one two thousand", 12000),
        ("two thousand two hundred", 2200),
        ("four thousand three hundred", 4300),
    ],
)
def test_whole_hundreds_and_thousands(words, value):
    assert number(words.split()) == value


@pytest.mark.outside(source="ICAO Annex 10 vol. II 5.2.1.4.1: decimals of frequencies (4.3)", confidence="V2")
@pytest.mark.parametrize(
    ("words", "value"),
    [("one one eight decimal four five zero", 118.450), ("one two one decimal five zero zero", 121.500),
     ("one two one decimal five", 121.5)],
)  # fmt: skip
def test_decimals_said_digit_by_digit(words, value):
    assert number(words.split()) == value


@pytest.mark.outside(
    source='transcripts of TIDIGITS samples in pocketsphinx-testdata, "oh" included (4.6)', confidence="V1"
)  # fmt: skip
@pytest.mark.parametrize(
    ("words", "value"),
    [("one one one", 111), ("three five oh", 350), ("two seven six three one seven oh", 2763170)],
)
def test_digit_strings_of_real_speech_with_oh_for_zero(words, value):
    assert number(words.split()) == value
