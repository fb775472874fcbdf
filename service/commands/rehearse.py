"""`limitwitness rehearse FILE`: a stroke played through before it happens, a real one judged by its marks."""

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any

from service.commands.definition_files import add_schema_option, load_valve_file
from service.definitions.valve import ValveFile
from service.domain.motor import duty_questions
from service.domain.refusals import BadDefinition
from service.domain.rehearsal import Rehearsal, Stroke, rehearse
from service.domain.stroke import Remark, judge
from service.drawings.stroke_plot import draw_stroke

CAUTION = "Predicted from stated figures. Under power keep a hand on a proved stop; local rules come first."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the verb."""
    parser.add_argument(
        "file", metavar="FILE", help="valve file with its parts scale, motor and stroke, YAML or JSON"
    )
    parser.add_argument(
        "--towards", choices=["open", "closed"], help="a whole stroke in this direction instead"
    )
    parser.add_argument("--svg", metavar="OUT", help="plot the stroke to this file")
    add_schema_option(parser, "valve")
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")


def run(options: argparse.Namespace) -> int:
    """Rehearse the stroke, judge the marks where there are any, print and draw; return the exit status."""
    valve, circuits = load_valve_file(options.file)
    stroke = valve.stroke(circuits, options.towards)
    done = rehearse(stroke)
    remarks = _judged(valve, stroke, done)
    _ask(valve, stroke, done)
    if options.json:
        print(json.dumps(_as_json(stroke, done, remarks), ensure_ascii=False, allow_nan=False))
    else:
        print(_in_words(stroke, done, remarks))
    if options.svg:
        _write(options.svg, draw_stroke(valve.valve, stroke, done))
    found = done.stopped_by in {"nothing", "does not start"} or done.overrun_pct > 0
    return 1 if found or any(remark.standing == "differs" for remark in remarks) else 0


def _judged(valve: ValveFile, stroke: Stroke, done: Rehearsal) -> tuple[Remark, ...]:
    """Judge the stated marks; they are those of the stroke in the file, not of one asked for instead."""
    if not valve.marks or valve.stroke_towards != stroke.direction:
        return ()
    return judge(done, valve.marks, valve.compared)


def _ask(valve: ValveFile, stroke: Stroke, done: Rehearsal) -> None:
    """Print on stderr what the figures give reason to ask about."""
    for question in valve.questions:
        print(question, file=sys.stderr)
    if done.coast_pct is not None and stroke.scale.handwheel is not None and done.stopped_by == "limit":
        advice = valve.margin(done.coast_pct + done.overrun_pct)
        print(f"Margin: {advice.reason}", file=sys.stderr)
        short_of = done.coast_pct + (done.left_pct or 0.0)
        if advice.margin_pct is not None and short_of < advice.margin_pct:
            print(
                f"The limit trips {short_of:.3g} % short of the hard stop; more is needed.", file=sys.stderr
            )
    if done.overrun_pct > 0:
        print("The coast is longer than the margin: the valve would meet its hard stop.", file=sys.stderr)
    for question in duty_questions([*valve.earlier_runs, (0.0, done.events[-1].t_s)], valve.duty):
        print(question, file=sys.stderr)


def _as_json(stroke: Stroke, done: Rehearsal, remarks: tuple[Remark, ...]) -> dict[str, Any]:
    turning = stroke.scale.kind == "quarter_turn"
    left = None if done.left_pct is None else round(stroke.scale.distance(done.left_pct), 4)
    used = done.margin_used
    said: dict[str, Any] = {
        "events": [
            {
                "t_s": round(event.t_s, 4),
                "sigma_s": round(event.sigma_s, 4),
                "travel_pct": round(event.travel_pct, 4),
                "what": event.what,
            }
            for event in done.events
        ],
        "stopped_by": _stopped_by(done),
        "left_to_stop_mm": None if turning else left,
        "left_to_stop_deg": left if turning else None,
        "left_sigma": round(stroke.scale.distance(done.left_sigma_pct), 4),
        "coast_pct": None if done.coast_pct is None else round(done.coast_pct, 4),
        "margin_used": None if used is None or math.isinf(used) else round(used, 4),
        "towards": stroke.direction,
    }
    if remarks:
        said["judged"] = [
            {"topic": remark.topic, "standing": remark.standing, "sentence": remark.sentence}
            for remark in remarks
        ]
    return said


def _stopped_by(done: Rehearsal) -> str:
    names = f"contact {' and '.join(done.by_contacts)}" if done.by_contacts else "the circuit"
    words = {
        "limit": names,
        "torque": "torque switch",
        "nothing": "nothing",
        "does not start": f"does not start: {names} open",
    }
    return words[done.stopped_by]


def _in_words(stroke: Stroke, done: Rehearsal, remarks: tuple[Remark, ...]) -> str:
    rows = [CAUTION, f"{'time':>9}  {'doubt':>7}  {'travel':>8}"]
    rows += [
        f"{event.t_s:7.2f} s  ± {2 * event.sigma_s:4.2f} s  {event.travel_pct:6.2f} %  {event.what}"
        for event in done.events
    ]
    said = _as_json(stroke, done, ())
    unit = "degrees" if said["left_to_stop_mm"] is None else "mm"
    left = said["left_to_stop_mm"] if said["left_to_stop_mm"] is not None else said["left_to_stop_deg"]
    rows.append(f"stopped by: {said['stopped_by']}")
    if left is not None:
        rows.append(f"left to the hard stop: {left:.2f} {unit} (± {2 * said['left_sigma']:.2f})")
    rows += [f"{remark.topic.replace('_', ' ')}: {remark.sentence}" for remark in remarks]
    return "\n".join(rows)


def _write(path: str, drawing: str) -> None:
    try:
        Path(path).write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise BadDefinition(f"Cannot write {path}: {error.strerror}.", field="--svg") from error
