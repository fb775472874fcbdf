"""The second person judges a checkpoint: identity, required state, seen state, without having been primed."""

from collections.abc import Mapping
from dataclasses import dataclass

from service.domain.incoming import Judgement, Opinion
from service.domain.people import Mode
from service.ports import Asker, Ports
from service.use_cases.act import act
from service.use_cases.job_record import JobRecord, advance, load_job
from service.use_cases.sights import servings


@dataclass(frozen=True)
class Stated:
    """What the second person states: the tag read, and by contact the required and the seen state."""

    tag: str
    required: Mapping[str, str]
    seen: Mapping[str, str]
    mode: Mode = "independent"
    reason: str = ""


def judge_blind(ports: Ports, asker: Asker, job_id: str, step: str, stated: Stated) -> JobRecord:
    """Record a judgement.

    Whether it was blind is computed from what this person was served, on any device.
    """
    with ports.transactions.writing() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
        judgement = Judgement(
            person=asker.person_id,
            step=step,
            tag=stated.tag,
            required=stated.required,
            seen=stated.seen,
            mode=stated.mode,
            reason=stated.reason,
            served=servings(tx, record, asker),
        )
        return advance(ports, tx, record, judgement)


def give_opinion(ports: Ports, asker: Asker, job_id: str, opinion: Opinion) -> JobRecord:
    """Record what the second person concludes: agree, disagree or another photo."""
    return act(ports, asker, job_id, opinion)
