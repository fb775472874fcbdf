import random

import pytest

from speech.language import groups, table
from speech.lexicon import Lexicon
from speech.meaning import Understanding
from speech.phrase import Meaning
from speech.phrasebook import all_phrases, card, phrases_for, steps, stop_meanings, wordings
from speech.reading_back import read_back_groups
from speech.refusals import PhrasesRefused

BOOK = all_phrases()
UNDERSTANDING = Understanding(BOOK, table("list_words")["correction"])
CHANCE = random.Random(17)  # noqa: S311 - draws sentences


def filled(phrase):
    text = phrase.text
    for name, slot in phrase.slots:
        text = text.replace("{" + name + "}", slot.sample(CHANCE.choice))
    return text


def said_of(phrase):
    """One sentence of a phrase; drawn again where the draw names one contact in two groups."""
    texts = (filled(phrase) for _ in range(50))
    return next(text for text in texts if UNDERSTANDING.of(text) or "contacts_2" not in phrase.text)


SAID = [said_of(phrase) for phrase in BOOK for _ in range(8)]


def test_optional_words_give_every_wording_once():
    assert wordings("contact {contact} [is] [just] {state}") == [
        "contact {contact} {state}",
        "contact {contact} just {state}",
        "contact {contact} is {state}",
        "contact {contact} is just {state}",
    ]


def test_no_two_phrases_have_the_same_text():
    texts = [phrase.text for phrase in BOOK]
    assert len(texts) == len(set(texts))


def test_every_phrase_that_can_be_said_means_exactly_what_its_entry_says():
    wrong = []
    for phrase in BOOK:
        for _ in range(8):
            understood = UNDERSTANDING.of(said_of(phrase))
            if understood is None or understood.meaning.intent != phrase.meaning.intent:
                wrong.append(phrase.text)
    assert wrong == []


def test_every_word_of_every_phrase_has_a_pronunciation_of_its_own_or_of_the_dictionary():
    lexicon = Lexicon()
    words = {word for text in SAID for word in text.split()}
    known, silent = lexicon.pronounce(sorted(words))
    assert silent == []
    assert lexicon.guessed == {}
    assert len(known) == len(words)


def test_a_phrase_and_its_denial_never_mean_the_same():
    for phrase in BOOK:
        if phrase.meaning.slots.get("negated"):
            plain = {k: v for k, v in phrase.meaning.slots.items() if k != "negated"}
            assert Meaning(phrase.meaning.intent, plain).key() != phrase.meaning.key()


def test_leaving_out_a_denial_word_never_leaves_a_phrase_with_the_same_meaning():
    denials = set(table("doubts")["kinds"]["denial"])
    for phrase in BOOK:
        if not phrase.meaning.slots.get("negated"):
            continue
        text = filled(phrase)
        rest = " ".join(word for word in text.split() if word not in denials)
        assert rest != text, f"{text!r} denies without a word for it"
        assert UNDERSTANDING.key(rest) != UNDERSTANDING.key(text)


def test_cutting_the_first_or_last_word_never_gives_the_opposite():
    for text in SAID:
        whole = UNDERSTANDING.of(text)
        for part in (text.split()[1:], text.split()[:-1]):
            cut = UNDERSTANDING.of(" ".join(part))
            if cut is None or whole is None or cut.meaning.intent != whole.meaning.intent:
                continue
            denied = bool(whole.meaning.slots.get("negated"))
            assert bool(cut.meaning.slots.get("negated")) == denied or not denied, text


def test_talk_words_are_on_every_card():
    for step in steps():
        chosen = {phrase.text for phrase in phrases_for(step=step)}
        assert {"stop", "stop work", "stop stop stop", "say again", "correction"} <= chosen


def test_a_bare_state_is_no_phrase():
    for text in ("open", "closed", "on", "off", "yes", "okay", "dead", "clear", "nine", "not"):
        assert UNDERSTANDING.of(text) is None


def test_the_card_lists_every_phrase_and_the_bounds_of_every_slot():
    shown = card()
    for phrase in BOOK:
        assert f"  {phrase.text}\n" in shown
        for name, slot in phrase.slots:
            assert f"  {{{name}}}: {slot.bounds()}" in shown


def test_an_unknown_step_or_intent_is_refused_by_name():
    with pytest.raises(PhrasesRefused, match="brewing"):
        phrases_for(step="brewing")
    with pytest.raises(PhrasesRefused, match="teleport"):
        phrases_for(["teleport"])


def test_only_the_contacts_of_the_chart_can_be_said():
    mine = Understanding(phrases_for(["contact"], ["3B", "7"]))
    assert mine.of("three bravo closed").meaning.slots == {"contacts": ["3B"], "state": "closed"}
    assert mine.of("contact seven open").meaning.slots == {"contacts": ["7"], "state": "open"}
    assert mine.of("contact eight open") is None


def test_stopping_is_the_only_meaning_heard_on_weak_evidence():
    assert stop_meanings() == {Meaning("control", {"action": "stop_work"}).key()}


def test_every_group_of_phrases_names_its_steps():
    for group in groups():
        assert table(group)["steps"]


def test_what_is_read_back_means_what_was_heard():
    for text in SAID:
        meaning = UNDERSTANDING.of(text).meaning
        sentences = read_back_groups(meaning)
        if (
            len(sentences) > 1
            or {"closed", "open"} & set(meaning.slots)
            or len(meaning.slots.get("contacts", ())) > 1
        ):
            continue
        again = UNDERSTANDING.of(sentences[0].replace(",", ""))
        assert again is not None, (text, sentences)
        assert again.meaning.key() == meaning.key(), (text, sentences)


def test_no_sentence_that_is_read_back_is_longer_than_twelve_words():
    for text in SAID:
        for sentence in read_back_groups(UNDERSTANDING.of(text).meaning):
            assert len(sentence.split()) <= 12, sentence


def test_no_meaning_keeps_an_unfilled_slot():
    for text in SAID:
        assert '"{' not in UNDERSTANDING.of(text).meaning.key(), text
