"""Check the package in which this file lies.

    python3 check.py [--key FINGERPRINT] [--json]

Nothing but Python 3.11 or newer is needed. A package from a stranger may hold a check from a stranger: then
run your own copy of this file and of the folder "check" on it, naming the package: python3 check.py PACKAGE
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> None:
    """Run the check and exit with its status."""
    if sys.version_info < (3, 11):  # noqa: UP036 - a stranger's Python may be older than ours
        sys.exit("This check needs Python 3.11 or newer.")
    sys.dont_write_bytecode = True  # a file more in the package would be a change of it
    sys.path.insert(0, str(HERE / "check"))
    from service.package.check_door import main as check  # noqa: PLC0415 - found only by the line above

    sys.exit(check(sys.argv[1:], HERE))


if __name__ == "__main__":
    main()
