"""Entries altered in the database, past the service: no package is made of them, and each is named."""

import hashlib
import json
import shutil
import sqlite3

import pytest

from service.command_line import main
from service.commands.example import make_example
from service.compose import compose
from service.domain.incoming import Note
from service.domain.refusals import Refusal
from service.journal.canonical import canonical
from service.journal.keys import SigningKey
from service.package.check import check_package
from service.settings import Settings
from service.use_cases.act import act
from service.use_cases.open_from_file import as_asker


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    """A data folder with the sample job at its first photo step: some dozens of entries, really taken in."""
    folder = tmp_path_factory.mktemp("example") / "data"
    house = compose(Settings(folder=folder, disk_floor_bytes=0))
    list(make_example(house, "http://127.0.0.1:8423"))
    house.close()
    return folder


@pytest.fixture
def altered(example, tmp_path):
    """A copy of that folder, to be altered, and its open database."""
    folder = tmp_path / "data"
    shutil.copytree(example, folder)
    with sqlite3.connect(folder / "record.sqlite") as database:
        yield folder, database
    database.close()


def refused(folder, database, tmp_path, capsys) -> str:
    """Return the one line with which the package is refused."""
    database.commit()
    capsys.readouterr()
    assert main(["package", "RW-204", "--data", str(folder), "--out", str(tmp_path / "p")]) == 2
    assert not (tmp_path / "p").exists()
    (line,) = capsys.readouterr().err.splitlines()
    return line


def row(database, seq):
    return database.execute("SELECT envelope, payload FROM entries WHERE seq = ?", (seq,)).fetchone()


def last(database) -> int:
    return database.execute("SELECT max(seq) FROM entries").fetchone()[0]


def test_the_untouched_record_gives_a_package_that_checks(example, tmp_path):
    assert main(["package", "RW-204", "--data", str(example), "--out", str(tmp_path / "p")]) == 0
    outcome = check_package(tmp_path / "p")
    assert (outcome.verdict, outcome.problems) == ("unchanged", ())
    assert outcome.contents.entries > 30


def test_an_edited_payload_is_named(altered, tmp_path, capsys):
    folder, database = altered
    payload = json.loads(row(database, 5)[1])
    payload["body"]["step"] = "another"
    database.execute("UPDATE entries SET payload = ? WHERE seq = 5", (canonical(payload),))
    assert "Entry 5: The payload is changed" in refused(folder, database, tmp_path, capsys)


def test_an_edited_entry_with_envelope_and_hash_made_to_fit_is_named(altered, tmp_path, capsys):
    folder, database = altered
    envelope, payload = (json.loads(part) for part in row(database, 7))
    payload["body"]["edited"] = True
    envelope["payload_sha256"] = hashlib.sha256(canonical(payload)).hexdigest()
    stored = canonical(envelope)
    values = (stored, canonical(payload), hashlib.sha256(stored).hexdigest())
    database.execute("UPDATE entries SET envelope = ?, payload = ?, hash = ? WHERE seq = 7", values)
    assert "Entry 7 is changed" in refused(folder, database, tmp_path, capsys)


def test_the_last_entry_dropped_is_named(altered, tmp_path, capsys):
    folder, database = altered
    newest = last(database)
    database.execute("DELETE FROM entries WHERE seq = ?", (newest,))
    assert f"Entry {newest} is missing" in refused(folder, database, tmp_path, capsys)


def test_two_swapped_entries_are_named(altered, tmp_path, capsys):
    folder, database = altered
    (first, second), (one, two) = row(database, 8), row(database, 9)
    database.execute("UPDATE entries SET envelope = ?, payload = ? WHERE seq = 8", (one, two))
    database.execute("UPDATE entries SET envelope = ?, payload = ? WHERE seq = 9", (first, second))
    line = refused(folder, database, tmp_path, capsys)
    assert "8" in line
    assert "9" in line


def test_a_head_signed_by_another_key_is_refused(altered, tmp_path, capsys):
    folder, database = altered
    database.execute("UPDATE heads SET signature = zeroblob(64)")
    assert "signature does not fit" in refused(folder, database, tmp_path, capsys)


def test_a_chain_made_to_fit_and_a_head_signed_with_another_key_do_not_get_the_true_signature(
    altered, tmp_path, capsys
):
    folder, database = altered
    newest = last(database)
    database.execute("DELETE FROM entries WHERE seq = ?", (newest,))
    (document,) = database.execute("SELECT document FROM heads ORDER BY seq DESC LIMIT 1").fetchone()
    envelope = row(database, newest - 1)[0]
    head = {**json.loads(document), "seq": newest - 1, "hash": hashlib.sha256(envelope).hexdigest()}
    key = SigningKey.create()
    values = (canonical(head), key.sign(canonical(head)), key.public_key)
    database.execute("DELETE FROM heads WHERE seq < (SELECT max(seq) FROM heads)")
    database.execute("UPDATE heads SET document = ?, signature = ?, public_key = ?", values)
    assert f"signed with the key {key.fingerprint}" in refused(folder, database, tmp_path, capsys)


def test_a_redacted_payload_leaves_a_package_that_checks(altered, tmp_path, capsys):
    folder, database = altered
    personal = [
        seq
        for seq, envelope in database.execute("SELECT seq, envelope FROM entries")
        if json.loads(envelope)["personal"] and seq > 0
    ]
    database.execute("UPDATE entries SET payload = NULL WHERE seq = ?", (personal[-1],))
    database.commit()
    assert main(["package", "RW-204", "--data", str(folder), "--out", str(tmp_path / "p")]) == 0
    outcome = check_package(tmp_path / "p")
    assert outcome.verdict == "unchanged"
    assert outcome.contents.redacted == (personal[-1],)
    page = (tmp_path / "p" / "data" / "report.html").read_text()
    assert f"what entries {personal[-1]} said" in page


def write_a_note(folder):
    """Add an entry through the service, as the engineer of the job."""
    house = compose(Settings(folder=folder, disk_floor_bytes=0))
    try:
        with house.ports.transactions.reading() as tx:
            (site,) = tx.registers.sites()
            (job,) = tx.listings.jobs(site.id)
            engineer = next(one for one in tx.registers.persons(site.id) if "engineer" in one.roles)
        act(house.ports, as_asker(engineer), job.id, Note(person=engineer.id, text="Looked at it."))
    finally:
        house.close()


def test_an_untouched_record_takes_another_entry(altered, tmp_path):
    folder, database = altered
    before = last(database)
    write_a_note(folder)
    assert last(database) > before


@pytest.mark.parametrize(
    "change",
    [
        "DELETE FROM heads",
        "DELETE FROM entries WHERE seq = (SELECT max(seq) FROM entries)",
        "UPDATE heads SET signature = zeroblob(64)",
        "UPDATE entries SET hash = '" + "0" * 64 + "' WHERE seq = (SELECT max(seq) FROM entries)",
    ],
    ids=["heads removed", "last entry dropped", "signature blanked", "hash of the last changed"],
)
def test_an_altered_record_takes_no_further_entry_and_so_gets_no_new_signature(altered, change):
    folder, database = altered
    database.execute(change)
    database.commit()
    before = last(database)
    with pytest.raises(Refusal):
        write_a_note(folder)
    assert last(database) == before


def test_a_change_of_key_leaves_older_jobs_usable_and_their_packages_signed_anew(altered, tmp_path, capsys):
    folder, _ = altered
    old = SigningKey.from_pem((folder / "signing-key.pem").read_bytes())
    (folder / "signing-key.pem").unlink()
    with pytest.raises(Refusal):
        write_a_note(folder)
    (folder / "earlier-keys").mkdir()
    (folder / "earlier-keys" / "until-today.pem").write_bytes(old.public_pem)
    write_a_note(folder)
    capsys.readouterr()
    assert main(["package", "RW-204", "--data", str(folder), "--out", str(tmp_path / "p"), "--json"]) == 0
    key = json.loads(capsys.readouterr().out)["key"]
    assert key != old.fingerprint
    assert check_package(tmp_path / "p", key).exit_status == 0
