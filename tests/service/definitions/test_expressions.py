"""Circuit expressions: against Python's own reading of the same formula, and texts that are none."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.definitions.expressions import parse_expression
from service.domain.expressions import World, contacts_in, evaluate
from service.domain.refusals import BadDefinition

LABELS = ["9", "3B", "R3 upper right"]
leaves = st.sampled_from(
    [(f'contact "{label}"', f"contacts[{label!r}]") for label in LABELS]
    + [("torque closing", "torque['closed']"), ("torque opening", "torque['open']")]
    + [(f"command {word}", f"command == {word!r}") for word in ("open", "close", "stop")]
    + [("always", "True"), ("never", "False")]
)


def negated(formula):
    return f"not ({formula[0]})", f"not ({formula[1]})"


def joined_by(parts):
    (left, left_python), word, (right, right_python) = parts
    return f"({left} {word} {right})", f"(({left_python}) {word} ({right_python}))"


def joined(parts):
    word = st.sampled_from(["and", "or"])
    return st.one_of(parts.map(negated), st.tuples(parts, word, parts).map(joined_by))


formulas = st.recursive(leaves, joined, max_leaves=8)
worlds = st.builds(
    World,
    st.fixed_dictionaries({label: st.booleans() for label in LABELS}),
    st.fixed_dictionaries({"closed": st.booleans(), "open": st.booleans()}),
    st.sampled_from(["open", "close", "stop"]),
)


@given(formulas, worlds)
def test_every_formula_means_what_python_makes_of_it(formula, world):
    text, python = formula
    meant = eval(python, {}, {"contacts": world.contacts, "torque": world.torque, "command": world.command})  # noqa: S307 - the oracle, on text made here
    assert evaluate(parse_expression(text, "f"), world, {}) == meant


@pytest.mark.outside(
    source="Python language reference 6.17, or < and < not: CPython, a second reader of the same formula",
    confidence="C",
)
@given(st.sampled_from(["and", "or"]), st.sampled_from(["and", "or"]), worlds)
def test_and_binds_tighter_than_or_and_not_tighter_than_both(one, two, world):
    text = f"not contact 9 {one} contact 3B {two} torque closing"
    names = {"a": world.contacts["9"], "b": world.contacts["3B"], "c": world.torque["closed"]}
    assert evaluate(parse_expression(text, "f"), world, {}) == eval(f"not a {one} b {two} c", {}, names)  # noqa: S307 - the oracle


@pytest.mark.outside(
    source="textbook truth tables over p q = 00 01 10 11: two-way switch 0110, De Morgan 1110 and 1000; from memory",
    confidence="M",
)
@pytest.mark.parametrize(
    ("formula", "table"),
    [
        ("contact 9 and not contact 3B or not contact 9 and contact 3B", "0110"),
        ("not (contact 9 and contact 3B)", "1110"),
        ("not contact 9 or not contact 3B", "1110"),
        ("not (contact 9 or contact 3B)", "1000"),
        ("not contact 9 and not contact 3B", "1000"),
    ],
)
def test_circuits_have_the_truth_tables_of_the_textbooks(formula, table):
    tree = parse_expression(formula, "f")
    told = [
        evaluate(tree, World({"9": p, "3B": q}, {"closed": True, "open": True}, "stop"), {})
        for p in (False, True)
        for q in (False, True)
    ]
    assert told == [state == "1" for state in table]


def test_a_label_may_look_like_a_word_of_the_language():
    assert contacts_in(parse_expression("contact and and contact or", "f"), {}) == ("and", "or")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "ends before"),
        ("contact", "ends before"),
        ("contact 9 and", "ends before"),
        ("(contact 9", "ends before"),
        ("contact 9 contact 12", "cannot go on with 'contact 12'"),
        ("contact 9 xor contact 12", "cannot go on with 'xor"),
        ("torque left", "cannot go on with 'left'"),
        ("command halt", "cannot go on with 'halt'"),
        ("9 and 12", "cannot go on with '9 and 12'"),
        ("__import__('os')", "cannot go on"),
        ("(" * 60 + "always" + ")" * 60, "nests more than 40"),
        ("not " * 60 + "always", "nests more than 40"),
        ("always and " * 400 + "always", "more than 2000"),
    ],
)
def test_what_is_no_expression_is_refused_at_its_field(text, words):
    with pytest.raises(BadDefinition, match=words.replace("(", r"\(")) as caught:
        parse_expression(text, "circuits.motor.closing")
    assert caught.value.field == "circuits.motor.closing"
