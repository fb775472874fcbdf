"""Prints every check against something published outside this project: check, source, confidence, test.

    python -m tests.documents.sources_table

The table is read from the marks `@pytest.mark.outside(source=..., confidence=...)` in the tests' own text, so
it can list no check that is not there. Confidence: V1 read in the source itself, V2 read where another public
text restates it, C computed with a named program beside a published figure, P common practice without source,
M from memory. Where a mark states none, it follows from the words of its source, or stays a dash.
"""

import ast
from dataclasses import dataclass
from pathlib import Path

TESTS = Path(__file__).parents[1]
AREAS = {
    "chart": ("chart", "expected", "layout", "zones"),
    "circuits": ("circuit", "expressions"),
    "gates": (
        "safety",
        "gates",
        "procedure",
        "second_person",
        "voiding",
        "needs",
        "lapse",
        "people",
        "evidence",
        "whole_job",
        "restricting",
    ),
    "scale": ("threads", "travel_scale", "back_off", "quantities", "setting_advice"),
    "motion": ("motor", "motion", "rehearsal", "stroke"),
    "statistics": ("repeatability", "drift", "agreement"),
    "speech": ("speech", "phrases", "spoken", "spelling", "hearing", "claims"),
    "photo": ("vision",),
    "record": ("journal", "package", "faults"),
    "service": ("api", "access", "database", "media"),
}


AS_READ = {
    "29 CFR 1910": "V2",
    "NFPA 70E": "V2",
    "EN 50110": "V2",
    "IEC 60079": "V2",
    "DOE-STD-1036": "V1",
    "DOE-EM-STD-5505": "V1",
    "DOE-HDBK-1028": "V2",
    "ASTM F1583": "V1",
    "OWASP ASVS": "V1",
    "ICAO": "V2",
    "RFC 8785": "V1",
    "RFC 9457": "V1",
    "RFC 8493": "V1",
    "BagIt conformance": "V1",
    "wycheproof": "V1",
    "RFC 8032": "V2",
    "cryptography-vectors": "C",
    "FIPS 180": "C",
    "definition of dBFS": "C",
}
"""How sources were read that checks name without saying so: V1 in their own text, V2 restated, C computed."""


@dataclass(frozen=True)
class Check:
    """One marked test function: its area, name, source, confidence and file."""

    area: str
    name: str
    source: str
    confidence: str
    file: str


def checks(folder: Path = TESTS) -> list[Check]:
    """Return every marked test function below a folder, by area and file."""
    found = [check for path in sorted(folder.rglob("*.py")) for check in _in_file(path, folder)]
    order = [*AREAS, "other"]
    return sorted(found, key=lambda check: (order.index(check.area), check.file, check.name))


def _in_file(path: Path, folder: Path) -> list[Check]:
    module = ast.parse(path.read_text(encoding="utf-8"))
    file = str(path.relative_to(folder))
    assigned = [node for node in module.body if isinstance(node, ast.Assign)]
    named = {
        target.id: str(node.value.value)
        for node in assigned
        if isinstance(node.value, ast.Constant)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for_all = [mark for node in assigned for mark in _marks_in(node.value, named)]
    found = []
    for node in ast.walk(module):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name.startswith("test_"):
            marks = [
                mark for decorator in node.decorator_list for mark in _marks_in(decorator, named)
            ] or for_all
            found += [Check(_area(file), _sentence(node.name), source, sure, file) for source, sure in marks]
    return found


def _marks_in(node: ast.expr, named: dict[str, str]) -> list[tuple[str, str]]:
    """Return source and confidence of every `outside` mark in an expression."""
    found = []
    for call in ast.walk(node):
        if (
            isinstance(call, ast.Call)
            and isinstance(call.func, ast.Attribute)
            and call.func.attr == "outside"
        ):
            words = {word.arg: _text(word.value, named) for word in call.keywords if word.arg}
            source = words["source"]
            found.append((source, words.get("confidence") or _confidence(source)))
    return found


def _text(value: ast.expr, named: dict[str, str]) -> str:
    """Return a keyword's text: a literal, a name of the module, what joins them; else the expression."""
    match value:
        case ast.Constant():
            return str(value.value)
        case ast.Name() if value.id in named:
            return named[value.id]
        case ast.BinOp(op=ast.Add()):
            return _text(value.left, named) + _text(value.right, named)
        case ast.JoinedStr():
            return "".join(_text(part, named) for part in value.values)
        case ast.FormattedValue():
            return _text(value.value, named)
        case _:
            return ast.unparse(value)


def _confidence(source: str) -> str:
    """Return the mark of a source whose check states none: by its words, then by how that source was read."""
    if "common practice" in source:
        return "P"
    if "memory" in source:
        return "M"
    return next((mark for name, mark in AS_READ.items() if name in source), "-")


def _area(file: str) -> str:
    """Return the area of a test file: by its name first, then by its folders."""
    name = Path(file).stem
    for parts in (name, file):
        for area, words in AREAS.items():
            if any(word in parts for word in words):
                return area
    return "other"


def _sentence(name: str) -> str:
    return name.removeprefix("test_").replace("_", " ")


def table(found: list[Check]) -> str:
    """Return the table as text, an empty line between areas, the count of each area at the end."""
    rows, area = [], ""
    for check in found:
        if check.area != area:
            area = check.area
            rows.append(f"\n## {area}\n\n| check | source | confidence |\n|---|---|---|")
        rows.append(f"| {check.name} | {check.source} | {check.confidence} |")
    counts = {name: sum(check.area == name for check in found) for name in [*AREAS, "other"]}
    rows.append(
        f"\n{len(found)} checks: " + ", ".join(f"{name} {count}" for name, count in counts.items() if count)
    )
    return "\n".join(rows).lstrip()


if __name__ == "__main__":
    print(table(checks()))
