"""What a check of a package found, and the verdict that follows from it. Bare Python."""

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from service.journal.digests import sha256_hex
from service.package import paths
from service.package.contents import Contents

Verdict = Literal["unchanged", "changed", "not-checkable"]
Signer = Literal["known", "unknown", "not compared"]


@dataclass(frozen=True)
class Problem:
    """One thing that is not as it was recorded, or that could not be checked.

    `path` is the file in the package ("" for the package as a whole), `entry` the number of the entry that it
    belongs to, or None.
    """

    path: str
    entry: int | None
    what: str


@dataclass(frozen=True)
class Outcome:
    """The result of a check. `signed_with` is the fingerprint of the key that the package names."""

    verdict: Verdict
    signer: Signer
    problems: tuple[Problem, ...]
    signed_with: str | None
    contents: Contents | None

    @property
    def exit_status(self) -> int:
        """0 where nothing was found and the signer is not a stranger, else 1."""
        return 0 if self.verdict == "unchanged" and self.signer != "unknown" else 1

    def to_json(self) -> dict[str, Any]:
        """Return verdict, signer and problems as a JSON object."""
        return {
            "verdict": self.verdict,
            "signer": self.signer,
            "problems": [asdict(problem) for problem in self.problems],
        }


@dataclass
class Report:
    """Collects problems while a check goes on; a problem that is found twice stands once."""

    changed: dict[Problem, None] = field(default_factory=dict)
    unchecked: dict[Problem, None] = field(default_factory=dict)

    def found(self, path: str, what: str, entry: int | None = None) -> None:
        """Note that something is not as it was recorded."""
        self.changed[Problem(path, _entry_of(path) if entry is None else entry, what)] = None

    def missing(self, path: str) -> None:
        """Note that a file is not there."""
        self.found(path, "The file is missing.")

    def cannot(self, path: str, what: str) -> None:
        """Note that something could not be checked."""
        self.unchecked[Problem(path, _entry_of(path), what)] = None

    def outcome(self, contents: Contents | None, public_key: bytes | None, key: str | None) -> Outcome:
        """Draw the verdict, and compare the signer with the key that the caller knows."""
        signed_with = None if public_key is None else sha256_hex(public_key)
        signer: Signer = "not compared"
        if key is not None:
            signer = "known" if signed_with == key else "unknown"
        verdict: Verdict = "changed" if self.changed else "not-checkable" if self.unchecked else "unchanged"
        problems = sorted({**self.changed, **self.unchecked}, key=_entries_first)
        if signer == "unknown":
            named = signed_with or "no readable key"
            what = f"The package is signed with {named}, which is not the key that you gave."
            problems.append(Problem(paths.SIGNING_KEY, None, what))
        return Outcome(verdict, signer, tuple(problems), signed_with, contents)


def _entry_of(path: str) -> int | None:
    match = paths.ENTRY_FILE.fullmatch(path)
    return None if match is None else int(match[1])


def _entries_first(problem: Problem) -> tuple[bool, int, str, str]:
    return (problem.entry is None, problem.entry or 0, problem.path, problem.what)
