"""Circuit expressions as people write them, and the tree that the rules work with.

    command close and contact 9 and (torque closing or contact "R3 upper right")

`contact LABEL`, `torque closing|opening`, `command open|close|stop`, `lamp NAME`, `signal NAME`, `always`,
`never`, joined by `not`, `and`, `or` in this order of binding, with parentheses. A label or name with blanks
stands in double quotes.
"""

from functools import cache
from typing import Any

from lark import Lark, Token, Transformer
from lark.exceptions import LarkError, UnexpectedInput

from service.domain.expressions import (
    AllOf,
    Always,
    AnyOf,
    CircuitIs,
    CommandIs,
    ContactIs,
    Expression,
    Not,
    TorqueIs,
)
from service.domain.refusals import BadDefinition

LONGEST_EXPRESSION = 2000
DEEPEST_NESTING = 40

GRAMMAR = r"""
?start: any_of
?any_of: all_of ("or" all_of)*
?all_of: negated ("and" negated)*
?negated: "not" negated -> negation
        | atom
?atom: "(" any_of ")"
     | "contact" name      -> contact
     | "torque" TORQUE     -> torque
     | "command" COMMAND   -> command
     | "lamp" name         -> lamp
     | "signal" name       -> signal
     | "always"            -> always
     | "never"             -> never
name: NAME | ESCAPED_STRING
TORQUE: "closing" | "opening"
COMMAND: "open" | "close" | "stop"
NAME: /[A-Za-z0-9][A-Za-z0-9_.\/-]*/
%import common.ESCAPED_STRING
%import common.WS
%ignore WS
"""


class _Tree(Transformer[Token, Expression]):
    """Turns what was parsed into the domain's tree."""

    def name(self, parts: list[Token]) -> str:
        return str(parts[0]).strip('"')

    def contact(self, parts: list[str]) -> Expression:
        return ContactIs(parts[0])

    def torque(self, parts: list[Token]) -> Expression:
        return TorqueIs("closed" if parts[0] == "closing" else "open")

    def command(self, parts: list[Any]) -> Expression:
        return CommandIs(parts[0].value)

    def lamp(self, parts: list[str]) -> Expression:
        return CircuitIs(f"lamp {parts[0]}")

    def signal(self, parts: list[str]) -> Expression:
        return CircuitIs(f"signal {parts[0]}")

    def always(self, _parts: list[Token]) -> Expression:
        return Always(value=True)

    def never(self, _parts: list[Token]) -> Expression:
        return Always(value=False)

    def negation(self, parts: list[Expression]) -> Expression:
        return Not(parts[0])

    def all_of(self, parts: list[Expression]) -> Expression:
        return AllOf(tuple(parts))

    def any_of(self, parts: list[Expression]) -> Expression:
        return AnyOf(tuple(parts))


def parse_expression(text: str, field: str) -> Expression:
    """Return the tree of one circuit expression.

    Raises
    ------
    BadDefinition
        The text is no expression, or too long or too deep to be one of a real circuit; `field` is named.

    """
    if len(text) > LONGEST_EXPRESSION:
        raise BadDefinition(
            f"The expression has {len(text)} characters, more than {LONGEST_EXPRESSION}.", field=field
        )
    if text.count("(") > DEEPEST_NESTING or text.split().count("not") > DEEPEST_NESTING:
        raise BadDefinition(f"The expression nests more than {DEEPEST_NESTING} times.", field=field)
    try:
        tree = _parser().parse(text)
    except UnexpectedInput as error:
        raise BadDefinition(_where(text, error), field=field) from error
    except LarkError as error:
        raise BadDefinition(f"{text[:60]!r} is no circuit expression.", field=field) from error
    return _Tree().transform(tree)


def _where(text: str, error: UnexpectedInput) -> str:
    column = getattr(error, "column", -1)
    if column < 1 or getattr(getattr(error, "token", None), "type", "") == "$END":
        return f"{text[:60]!r} ends before the expression does."
    rest = text.splitlines()[max(0, getattr(error, "line", 1) - 1)][column - 1 :].strip()
    return f"The expression cannot go on with {rest[:30]!r} (character {column} of {text[:60]!r})."


@cache
def _parser() -> Lark:
    return Lark(GRAMMAR, parser="lalr", maybe_placeholders=False)
