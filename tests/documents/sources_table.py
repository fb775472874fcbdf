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
    for_all = [mark for node in module.body if isinstance(node, ast.Assign) for mark in _marks_in(node.value)]
    found = []
    for node in ast.walk(module):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name.startswith("test_"):
            marks = [mark for decorator in node.decorator_list for mark in _marks_in(decorator)] or for_all
            found += [Check(_area(file), _sentence(node.name), source, sure, file) for source, sure in marks]
    return found


def _marks_in(node: ast.expr) -> list[tuple[str, str]]:
    """Return source and confidence of every `outside` mark in an expression."""
    found = []
    for call in ast.walk(node):
        if (
            isinstance(call, ast.Call)
            and isinstance(call.func, ast.Attribute)
            and call.func.attr == "outside"
        ):
            words = {word.arg: ast.unparse(word.value) for word in call.keywords if word.arg}
            source = _text(call, "source")
            found.append(
                (source, _text(call, "confidence") if "confidence" in words else _confidence(source))
            )
    return found


def _text(call: ast.Call, name: str) -> str:
    """Return a keyword's text; where it is computed, the expression itself."""
    value = next(word.value for word in call.keywords if word.arg == name)
    try:
        return str(ast.literal_eval(value))
    except ValueError:
        return ast.unparse(value)


def _confidence(source: str) -> str:
    if "common practice" in source:
        return "P"
    return "M" if "memory" in source else "-"


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
