"""Release a hold point: the right person, with a fresh sign-in, naming the journal head that was seen."""

from service.domain.incoming import RefusedRelease, Release
from service.domain.people import Mode
from service.domain.refusals import Held
from service.ports import Asker, Ports
from service.use_cases.act import act
from service.use_cases.job_record import JobRecord
from service.use_cases.sign_in import is_fresh, require_fresh


def release_hold_point(  # noqa: PLR0913 - a release names all of these
    ports: Ports, asker: Asker, job_id: str, *, step: str, head: str, mode: Mode, reason: str
) -> JobRecord:
    """Record a release.

    Raises Outdated on an old head, NotAllowed without a fresh sign-in, Held where something lacks; that it was
    tried then stands in the journal.
    """
    require_fresh(ports, asker)
    release = Release(
        person=asker.person_id,
        step=step,
        head=head,
        fresh_sign_in=is_fresh(ports, asker),
        mode=mode,
        reason=reason,
    )
    try:
        return act(ports, asker, job_id, release)
    except Held as held:
        tried = RefusedRelease(person=asker.person_id, step=step, head=head, why=held.message)
        act(ports, asker, job_id, tried)
        raise
