"""What `serve --example` makes.

The sample job at its first photo step, with two sign-ins, all of it invented.
"""

import secrets
from collections.abc import Iterator

from service.commands.job import read_job_file
from service.compose import House, samples
from service.domain.refusals import Conflict
from service.use_cases.enrol_device import enrol_device
from service.use_cases.keep_registers import invite_device, take_password
from service.use_cases.open_from_file import as_asker, open_from_file
from service.use_cases.play_example import play_to_first_photo


def make_example(house: House, address: str) -> Iterator[str]:
    """Open the sample job and bring it to its first photo step; yields what a newcomer needs to know.

    `address` is where the pages are served; the technician's link makes the browser that opens it the
    example's phone, in its fragment, which no server sees.

    Raises Conflict where the folder holds a site already: an example never mixes with real jobs.
    """
    ports = house.ports
    with ports.transactions.reading() as tx:
        if tx.registers.sites():
            raise Conflict("This folder holds a site already.", hint="Name an empty folder for the example.")
    opened = open_from_file(ports, read_job_file(samples() / "jobs" / "rw-204" / "job.yaml"))
    yield f"Job {opened.row.id} on {opened.row.tag}, invented."
    technician = None
    for name, token in opened.invitations.items():
        password = secrets.token_urlsafe(12)
        person = take_password(ports, token, password)
        if "engineer" not in person.roles:
            yield f"{', '.join(sorted(person.roles))}: sign in as {name} with: {password}"
        if "technician" in person.roles:
            technician = person
    if technician is None:
        raise Conflict("The sample job has no technician.")
    with ports.transactions.writing() as tx:
        token = invite_device(ports, tx, technician.site_id, "example phone")
    device, device_token = enrol_device(ports, token)
    yield f"Technician's page, on the example phone: {address}/sign-in?go=/jobs#device={device_token}"
    yield f"Verifier's page: {address}/sign-in?go=/desk"
    record = play_to_first_photo(ports, as_asker(technician, device.id), opened.row.id)
    yield f"It stands at: {record.row.summary['title']}"
