from pathlib import Path

import pytest

from service.compose import samples
from service.demo.caught import FAULTS
from service.demo.story import load_story
from service.domain.refusals import BadDefinition

JOB = samples() / "jobs" / "rw-204"
WHOLE = load_story(JOB / "whole_job.story.yaml")
SHORT = load_story(JOB / "one_checkpoint.story.yaml")


def media_of(story) -> set[Path]:
    spoken = {act.what for act in story.acts if act.verb in {"say", "meanwhile"}}
    answers = {act.more["confirm"] for act in story.acts if act.more.get("confirm", "tap") != "tap"}
    spoken |= {clip for act in story.acts if act.verb == "marks" for _, clip, *_ in act.what}
    clips = {samples() / "clips" / "rw-204" / f"{name}.ogg" for name in spoken | answers}
    return clips | {samples() / "photos" / f"{act.what}.jpg" for act in story.acts if act.verb == "photo"}


@pytest.mark.parametrize("story", [WHOLE, SHORT])
def test_every_clip_and_photo_of_a_story_is_there(story):
    assert [str(file) for file in media_of(story) if not file.exists()] == []


def test_the_whole_job_has_every_fault_that_can_be_told_from_a_package():
    assert set(WHOLE.faults) == set(FAULTS)


@pytest.mark.parametrize("fault", WHOLE.faults)
def test_without_a_fault_none_of_its_acts_is_played(fault):
    acts = WHOLE.without(fault).acts
    assert fault not in {act.more.get("fault") for act in acts}
    assert set(WHOLE.faults) - {fault} == {act.more["fault"] for act in acts if "fault" in act.more}


def test_with_every_fault_nothing_is_played_in_the_place_of_one():
    assert not [act for act in WHOLE.without(None).acts if "instead_of" in act.more]


def test_a_fault_that_the_story_does_not_have_is_refused_by_name():
    with pytest.raises(BadDefinition, match="has no fault thunder"):
        WHOLE.without("thunder")


def test_an_act_with_two_verbs_is_refused(tmp_path):
    story = tmp_path / "two.story.yaml"
    story.write_text(
        "title: T\njob: job.yaml\npeople: {}\nacts:\n  - {say: confirm_1, tell: both, step: done}\n"
    )
    with pytest.raises(BadDefinition, match="exactly one of"):
        load_story(story)
