"""What goes into every package so that it can be checked on a machine where nothing but Python is installed.

The modules are copied as they are; a test follows their imports and holds this list complete.
"""

from importlib.resources import files

MODULES = (
    "service/__init__.py",
    "service/journal/__init__.py",
    "service/journal/check.py",
    "service/journal/digests.py",
    "service/journal/ed25519.py",
    "service/journal/envelope.py",
    "service/journal/strict_json.py",
    "service/package/__init__.py",
    "service/package/bag.py",
    "service/package/bag_check.py",
    "service/package/check.py",
    "service/package/check_door.py",
    "service/package/container.py",
    "service/package/contents.py",
    "service/package/findings_of_check.py",
    "service/package/paths.py",
    "service/package/public_key.py",
    "service/package/recorded.py",
    "service/package/stored_zip.py",
)
"""Every module that the check needs, and nothing that is not in Python itself."""

LAUNCHER = "check.py"
FOLDER = "check/"
LEAFLET = "HOW_TO_CHECK.txt"


def stand_alone_files() -> dict[str, bytes]:
    """Return path in the package to bytes: launcher, leaflet, and the modules under `check/`."""
    here = files("service")
    modules = {FOLDER + module: (here / module.removeprefix("service/")).read_bytes() for module in MODULES}
    launcher = (here / "package" / "launcher.py").read_bytes()
    leaflet = (here / "package" / "how_to_check.txt").read_bytes()
    return {LAUNCHER: launcher, LEAFLET: leaflet, **modules}
