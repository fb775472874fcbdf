"""Definition files: bytes to plain values, held to a published JSON Schema; a fault is named by its field.

YAML 1.1 in its safe form, of which JSON is a part; a date stays the text that it is written as. Refused: keys
given twice (YAML would keep the last silently), aliases (a few lines can grow to gigabytes), numbers that are
not finite, characters that cannot be printed, files over a megabyte, more parts or deeper nesting than any
definition has (so that a file is read or refused within seconds).
"""

import json
import math
import re
from collections.abc import Hashable, Iterator
from functools import cache
from importlib import resources
from typing import Any

import yaml
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError, best_match

from service.domain.refusals import BadDefinition

LIMIT_BYTES = 1_000_000
MOST_PARTS = 60_000
"""Keys, values and lists of one document; the largest chart that its schema allows stays under it."""
DEEPEST = 30
"""How deep lists and groups of fields may stand in each other; those of the schemas stay under ten."""
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
"""Control characters but tab and line feed, line separators, marks that turn the direction of writing."""


class _Loader(yaml.SafeLoader):
    """The safe loader without aliases, dates, silently overwritten keys, and more parts than a definition has."""

    yaml_implicit_resolvers = {  # noqa: RUF012 - yaml's own attribute
        first: [(tag, pattern) for tag, pattern in rules if tag != "tag:yaml.org,2002:timestamp"]
        for first, rules in yaml.SafeLoader.yaml_implicit_resolvers.items()
    }

    def __init__(self, stream: str) -> None:
        super().__init__(stream)
        self._parts = self._depth = 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        if self.check_event(yaml.AliasEvent):
            raise yaml.composer.ComposerError(problem="aliases are not used here")
        self._parts += 1
        self._depth += 1
        if self._parts > MOST_PARTS:
            raise BadDefinition(f"This document has more than {MOST_PARTS} parts.")
        if self._depth > DEEPEST:
            raise BadDefinition(f"More than {DEEPEST} levels stand within each other.")
        node = super().compose_node(parent, index)
        self._depth -= 1
        return node

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:  # noqa: FBT001, FBT002 - yaml's own signature
        seen: set[Any] = set()
        for key_node, _ in node.value:
            key = self.construct_object(key_node, deep=True)
            if isinstance(key, Hashable) and key in seen:
                raise yaml.constructor.ConstructorError(
                    None, None, f"{key} is given twice", key_node.start_mark
                )
            seen.add(key if isinstance(key, Hashable) else id(key_node))
        return super().construct_mapping(node, deep=deep)


def read_document(text: bytes, what: str) -> dict[str, Any]:
    """Return the mapping that a definition file holds.

    Parameters
    ----------
    text : bytes
        The file as it is stored, YAML or JSON in UTF-8.
    what : str
        What the file should be, for the message: "contact chart".

    Raises
    ------
    BadDefinition
        The file is too long, no UTF-8, no YAML, no mapping, or holds a number that is not finite or a
        character that cannot be printed.

    """
    if len(text) > LIMIT_BYTES:
        raise BadDefinition(f"This {what} has {len(text)} bytes, more than {LIMIT_BYTES}.")
    try:
        document = _parsed(text.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise BadDefinition(f"This {what} is not text in UTF-8 (byte {error.start}).") from error
    except yaml.YAMLError as error:
        raise BadDefinition(f"This {what} is not YAML or JSON: {_place_in_text(error)}.") from error
    except (ValueError, RecursionError) as error:
        raise BadDefinition(f"This {what} cannot be read: {type(error).__name__}.") from error
    if not isinstance(document, dict):
        raise BadDefinition(f"This {what} is not a list of named fields.")
    for number, (path, leaf) in enumerate(_leaves(document, "")):
        if number > MOST_PARTS:
            raise BadDefinition(f"This {what} has more than {MOST_PARTS} parts.")
        if isinstance(leaf, float) and not math.isfinite(leaf):
            raise BadDefinition(f"{leaf} is not a finite number.", field=path)
        if isinstance(leaf, str) and _UNPRINTABLE.search(leaf):
            raise BadDefinition("This text holds a character that cannot be printed.", field=path)
    return document


def _parsed(text: str) -> Any:  # noqa: ANN401 - any value a document can hold
    """Return the value of a JSON or YAML text; JSON is tried first, since its NaN is no number in YAML."""
    if text.lstrip().startswith("{"):
        try:
            return json.loads(text, object_pairs_hook=_named_once, parse_constant=float)
        except json.JSONDecodeError:
            pass  # a YAML mapping in flow style begins like JSON
    return yaml.load(text, Loader=_Loader)  # noqa: S506 - built on the safe loader


def _named_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise BadDefinition(f"{key} is given twice.", field=key)
        found[key] = value
    return found


def hold_to_schema(document: dict[str, Any], schema: str, what: str) -> dict[str, Any]:
    """Return the document if it fits the published schema of that name.

    Raises
    ------
    BadDefinition
        With the field that fits least and what it should be.

    """
    fault = best_match(_validator(schema).iter_errors(document))
    if fault is not None:
        field, reason = _explain(fault)
        raise BadDefinition(reason if field else f"This {what}: {reason}", field=field or None)
    return document


@cache
def schema_of(name: str) -> dict[str, Any]:
    """Return one of the published JSON Schemas by its name, for example "chart"."""
    text = (
        resources.files("service.definitions").joinpath("schemas", f"{name}.schema.json").read_text("utf-8")
    )
    schema: dict[str, Any] = json.loads(text)
    return schema


@cache
def _validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(schema_of(name))


def path_of(parts: Iterator[str | int] | list[str | int]) -> str:
    """Return a field's path as people write it: rotors[0].trip_pct."""
    text = ""
    for part in parts:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _explain(fault: ValidationError) -> tuple[str, str]:
    """Return field and sentence for one fault of a document."""
    path = list(fault.absolute_path)
    wanted: Any = fault.validator_value
    rule: Any = fault.schema
    value: Any = fault.instance
    shown = text if len(text := " ".join(str(value).split())) <= 60 else f"{text[:57]}..."
    match fault.validator:
        case "required":
            return path_of(
                [*path, next(name for name in wanted if name not in value)]
            ), "This field is missing."
        case "additionalProperties" if wanted is False:
            known = rule.get("properties", {})
            return path_of(
                [*path, next(str(name) for name in value if name not in known)]
            ), "There is no such field."
        case "type":
            hint = " Put it in quotes." if wanted == "string" else ""
            return path_of(path), f"{shown} is not a {_kind(wanted)}.{hint}"
        case "enum":
            return path_of(path), f"{shown} is none of {', '.join(map(str, wanted))}."
        case "minimum" | "exclusiveMinimum" | "maximum" | "exclusiveMaximum":
            return path_of(path), f"{shown} is not {_range(rule)}."
        case "pattern":
            return path_of(path), f"{shown!r} is not written as this field wants it: {wanted}"
        case _:
            return path_of(path), f"{fault.message[:200].rstrip('.')}."


def _kind(name: str | list[str]) -> str:
    words = {"string": "text", "object": "group of fields", "array": "list"}
    names = [name] if isinstance(name, str) else name
    return " or ".join(words.get(kind, kind) for kind in names)


def _range(schema: dict[str, Any]) -> str:
    parts = [
        f"{word} {schema[key]:g}"
        for key, word in (
            ("minimum", "at least"),
            ("exclusiveMinimum", "more than"),
            ("maximum", "at most"),
            ("exclusiveMaximum", "less than"),
        )
        if key in schema
    ]
    return " and ".join(parts)


def _place_in_text(error: yaml.YAMLError) -> str:
    mark = getattr(error, "problem_mark", None)
    problem = getattr(error, "problem", None) or "unreadable"
    return f"{problem} (line {mark.line + 1})" if mark else problem


def _leaves(value: Any, path: str, depth: int = 1) -> Iterator[tuple[str, Any]]:  # noqa: ANN401 - any value a document can hold
    """Return every key and value of a document with its path; a key that cannot be printed stands in none."""
    if depth > DEEPEST:
        raise BadDefinition(f"More than {DEEPEST} levels stand within each other.", field=path[:200])
    if isinstance(value, dict):
        for key, inner in value.items():
            name = "".join(sign if sign.isprintable() else "?" for sign in str(key))
            yield (f"{path}.{name}" if path else name), str(key).replace("\n", "\0").replace("\t", "\0")
            yield from _leaves(inner, f"{path}.{name}" if path else name, depth + 1)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _leaves(inner, f"{path}[{index}]", depth + 1)
    else:
        yield path, value
