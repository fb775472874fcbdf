"""Whatever is put into a definition file, it is used or refused by a sentence; it never crashes."""

import copy
import json
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.command_line import main
from service.definitions.documents import read_document

JOBS = Path(__file__).parents[3] / "sample_media/jobs"
TAGS = ("rw-204", "rw-118", "rw-330")
FILES = {
    (tag, name): yaml.safe_load((JOBS / tag / name).read_text())
    for tag in TAGS
    for name in ("chart.yaml", "valve.yaml", "layout.json")
}
odd = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.sampled_from(
        [
            0,
            -1,
            0.0,
            1e308,
            5e-324,
            100,
            50,
            "",
            "closed",
            "open",
            "R1",
            "9",
            "contact 9",
            "5 mm",
            "0 s",
            "-5 s",
        ]
    ),
    st.text(max_size=8),
    st.just([]),
    st.just({}),
    st.lists(st.integers(0, 3), max_size=2),
    st.dictionaries(st.text(max_size=3), st.integers(0, 3), max_size=2),
)


def places(value, path=()):
    """Every place in a document, the document itself left out."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        yield (*path, key)
        yield from places(one, (*path, key))


def spoil(document, path, how, value):
    for key in path[:-1]:
        document = document[key]
    if how == "remove":
        del document[path[-1]]
    elif how == "double" and isinstance(document, list):
        document.append(copy.deepcopy(document[path[-1]]))
    else:
        document[path[-1]] = value


@st.composite
def spoilt(draw):
    tag, name = draw(st.sampled_from(sorted(FILES)))
    files = {one: copy.deepcopy(document) for (where, one), document in FILES.items() if where == tag}
    for _ in range(draw(st.integers(1, 2))):
        path = draw(st.sampled_from(list(places(files[name]))))
        try:
            spoil(
                files[name],
                path,
                draw(st.sampled_from(["remove", "double", "replace", "replace"])),
                draw(odd),
            )
        except (KeyError, IndexError, TypeError):
            continue  # the second place lay inside what the first took away
    return files


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(spoilt())
def test_a_spoilt_file_is_used_or_refused_and_never_crashes(tmp_path, capsys, files):
    for name, document in files.items():
        text = json.dumps(document) if name.endswith("json") else yaml.safe_dump(document)
        (tmp_path / name).write_text(text)
    for arguments in (
        ["chart", "chart.yaml", "--json", "--svg", str(tmp_path / "chart.svg")],
        ["chart", "chart.yaml", "--json", "--at", "37.5", "--towards", "open"],
        ["advise", "valve.yaml", "--json"],
        ["rehearse", "valve.yaml", "--json", "--svg", str(tmp_path / "stroke.svg")],
    ):
        status = main([arguments[0], str(tmp_path / arguments[1]), *arguments[2:]])
        printed = capsys.readouterr()
        assert status in {0, 1, 2}
        if status == 2:
            assert printed.out == ""
            (line,) = printed.err.strip().splitlines()[-1:]
            assert line.startswith(f"limitwitness {arguments[0]}: ")
        else:
            assert all(isinstance(json.loads(line), dict) for line in printed.out.splitlines())


FIGURES = {"repeat": "repeats", "drift": "drift", "agreement": "looks"}
STATED = {
    verb: read_document((JOBS / "rw-204" / f"{name}.yaml").read_bytes(), name)
    for verb, name in FIGURES.items()
}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(sorted(STATED)), st.data())
def test_spoilt_figures_are_used_or_refused_and_never_crash(tmp_path, capsys, verb, data):
    document = copy.deepcopy(STATED[verb])
    path = data.draw(st.sampled_from(list(places(document))))
    spoil(
        document, path, data.draw(st.sampled_from(["remove", "double", "replace", "replace"])), data.draw(odd)
    )
    (tmp_path / "figures.json").write_text(json.dumps(document))
    status = main([verb, str(tmp_path / "figures.json"), "--json"])
    printed = capsys.readouterr()
    assert status in {0, 1, 2}
    assert (status == 2) == (printed.out == "")
    if status == 2:
        (line,) = printed.err.strip().splitlines()
        assert line.startswith(f"limitwitness {verb}: ")


@pytest.mark.parametrize("tag", TAGS)
def test_the_samples_themselves_are_used(tag, capsys):
    assert main(["rehearse", str(JOBS / tag / "valve.yaml"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["events"]
