"""The sample valve RW-204 with its drive, as pinned in a whole job, for the rig."""

from functools import cache

from service.definitions.actuator import load_actuator
from service.definitions.chart import load_wiring
from service.definitions.layout import load_layout
from service.domain.expansion import pin_job
from service.domain.pinned import PinnedJob, Valve
from tests.builders import SAMPLES
from tests.service.domain.jobs import PEOPLE, Rig, pass_step, play_to, shipped

FOLDER = SAMPLES / "jobs" / "rw-204"


@cache
def sample_job() -> PinnedJob:
    """RW-204, whole job, with circuits and drive."""
    layout = load_layout((FOLDER / "layout.json").read_bytes())
    wiring = load_wiring((FOLDER / "chart.yaml").read_bytes(), layout)
    return pin_job(
        job="job-2",
        site="site-1",
        valve=Valve("RW-204"),
        chart=wiring.chart,
        procedure=shipped("default"),
        people=PEOPLE,
        pins={"chart": "0" * 64},
        circuits=wiring,
        actuator=load_actuator((FOLDER / "valve.yaml").read_bytes()),
    )


@cache
def _at_first_stroke() -> Rig:
    rig = play_to(Rig(sample_job()), "total_turns")
    rig.say("turns", {"value": 36})
    for towards in ("closing", "opening"):
        rig.say("lost_motion", {"travel": towards, "value": 0.25}, step="lost_motion")
    play_to(rig, "tenth_closing")
    rig.say("hand_on_stop")
    rig.say("travel", {"of": "open", "percent": 10}, device_time=rig.stamp())
    pass_step(rig, "tenth_closing")
    return rig


def at_first_stroke() -> Rig:
    """A rig at the closing stroke, the valve stopped at 10 %; its own to play on."""
    return _at_first_stroke().twin()
