import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.spoken_values import digit_by_digit, number, spoken

ICAO = "ICAO Annex 10, volume II, 5.2.1.4.1 (forms of numbers in radiotelephony), by the sources list of this project"


@pytest.mark.outside(source=ICAO)
@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("one eight zero", 180),
        ("two zero zero", 200),
        ("one zero zero", 100),
        ("zero eight zero", 80),
        ("two four zero zero", 2400),
        ("four two zero three", 4203),
        ("one zero zero zero", 1000),
        ("eight hundred", 800),
        ("three thousand four hundred", 3400),
        ("one two thousand", 12_000),
        ("two thousand two hundred", 2200),
        ("four thousand three hundred", 4300),
        ("one one eight decimal four five zero", 118.45),
        ("one two one decimal five zero zero", 121.5),
    ],
)
def test_numbers_are_understood_as_the_radio_rules_say_them(said, value):
    assert number(said.split()) == value


@pytest.mark.outside(source="ICAO Annex 10, volume II, 5.2.1.4.3.1 (pronunciation of digits)")
@pytest.mark.parametrize(("said", "value"), [("tree", 3), ("fower", 4), ("fife", 5), ("niner", 9)])
def test_the_four_changed_digits_are_understood(said, value):
    assert number([said]) == value


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("nought point two", 0.2),
        ("two and a half", 2.5),
        ("sixteen and a quarter", 16.25),
        ("two hundred thirty", 230),
        ("two hundred and thirty", 230),
        ("four hundred", 400),
        ("twenty point nine", 20.9),
        ("thirteen", 13),
        ("thirty", 30),
        ("one three", 13),
        ("three zero", 30),
    ],
)
def test_everyday_numbers_are_understood(said, value):
    assert number(said.split()) == value


@pytest.mark.parametrize(
    "said",
    [
        "",
        "twenty ten",
        "twenty thirty",
        "thirty thirteen",
        "hundred",
        "point five",
        "five point",
        "one point two point three",
        "one point twenty",
        "twenty zero",
        "and a half",
        "two hundred and",
        "two hundred three hundred",
        "twenty hundred",
        "zero hundred",
        "seven nine hundred",
        "one hundred zero",
        "banana",
        "two banana",
        "oh",
        "minus one",
    ],
)
def test_words_that_are_no_number_give_none_and_not_a_guess(said):
    assert number(said.split()) is None


@given(st.integers(0, 9999))
def test_every_whole_number_is_understood_as_it_is_spoken(value):
    assert number(spoken(value).split()) == value


@given(st.integers(0, 9999), st.integers(0, 999))
def test_every_decimal_is_understood_as_it_is_spoken(whole, thousandths):
    value = whole + thousandths / 1000
    assert number(spoken(value).split()) == pytest.approx(value)


@given(st.integers(10, 99_999))
def test_every_number_is_understood_digit_by_digit(value):
    assert number(digit_by_digit(value).split()) == value


@given(st.integers(0, 999), st.integers(0, 999))
def test_two_different_numbers_are_never_spoken_alike(one, other):
    assert (spoken(one) == spoken(other)) == (one == other)
