"""Items of a device delivered in any order, some of them more than once, end in one and the same job."""

import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.compose import compose
from service.domain.incoming import Typed
from service.journal.check import check_chain
from service.journal.heads import check_head
from service.settings import Settings
from service.use_cases.job_record import load_job
from service.use_cases.sign_in import recognise
from service.use_cases.take_in import take_in
from tests import builders
from tests.conftest import StandingClock
from tests.service.conftest import SETTINGS, StandInReader

LABELS = ("9", "3B", "17", "5A")
IDS = [builders.new_id() for _ in range(2 * len(LABELS))]


def items(person: str, device: str, first: int) -> list[Typed]:
    """Each contact claimed, then the read-back of that claim confirmed.

    Eight items in the device's sequence.
    """
    made = []
    for place, label in enumerate(LABELS):
        claim, confirm = IDS[2 * place], IDS[2 * place + 1]
        said = ("contact", {"contacts": [label], "state": "open"}, None)
        right = ("control", {"action": "read_back_right"}, claim)
        for identity, (intent, slots, answers) in ((claim, said), (confirm, right)):
            made.append(
                Typed(
                    id=identity,
                    person=person,
                    device=device,
                    device_seq=first + len(made),
                    step="closed_end",
                    intent=intent,
                    slots=slots,
                    answers=answers,
                )
            )
    return made


@pytest.mark.timeout(120)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_order_and_any_doubling_end_in_the_same_claims(photo_step_once, data):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "data"
        shutil.copytree(photo_step_once.folder, folder)
        house = compose(Settings(folder=folder, **SETTINGS), clock=StandingClock(), reading=StandInReader())
        token = photo_step_once.authorizations["technician"].removeprefix("Bearer ")
        asker = recognise(house.ports, token)
        made = items(asker.person_id, asker.device_id, photo_step_once.seq + 1)
        order = data.draw(st.permutations(range(len(made))))
        twice = data.draw(st.lists(st.sampled_from(order), max_size=6))
        for number in [*order, *twice]:
            take_in(house.ports, asker, photo_step_once.crew.job, made[number])
        with house.ports.transactions.reading() as tx:
            record = load_job(house.ports, tx, asker.site_id, photo_step_once.crew.job)
            sealed = tx.journal.sealed(record.row.id)
            signed = tx.journal.head(record.row.id)
        house.close()
    attempt = record.state.attempt("closed_end")
    assert {label: claim.state for label, claim in attempt.claims.items()} == dict.fromkeys(LABELS, "open")
    assert record.state.devices[asker.device_id].waiting == {}
    assert sorted(e.id for e in record.entries if e.id in IDS) == sorted(IDS)
    head = check_head(signed.document, signed.signature, signed.public_key)
    problems = check_chain(sealed, job=record.row.id, head_seq=head.seq, head_hash=head.hash).problems
    assert problems == ()
