from service.ports import Invitation, Session
from tests import builders


def with_site(transactions):
    site = builders.site()
    with transactions.writing() as tx:
        tx.registers.add_site(site, builders.NOW)
    return site


def test_a_person_comes_back_with_roles_by_any_spelling_of_the_sign_in_name(transactions):
    site = with_site(transactions)
    person = builders.person(site, roles=("verifier", "engineer"))
    with transactions.writing() as tx:
        tx.registers.add_person(person, builders.NOW)
        assert tx.registers.person_by_sign_in_name("OONA.prell") == person


def test_an_invitation_works_once_and_not_after_its_time(transactions):
    site = with_site(transactions)
    invitation = Invitation(
        "a" * 64, site.id, "device", None, "phone", builders.NOW, "2031-05-07T00:00:00.000000Z"
    )
    late = Invitation("b" * 64, site.id, "device", None, "phone", builders.NOW, builders.NOW)
    with transactions.writing() as tx:
        tx.registers.add_invitation(invitation)
        tx.registers.add_invitation(late)
        assert tx.registers.use_invitation("a" * 64, builders.NOW) is not None
        assert tx.registers.use_invitation("a" * 64, builders.NOW) is None
        assert tx.registers.use_invitation("b" * 64, builders.NOW) is None


def test_disabling_a_person_ends_every_sign_in_of_that_person_alone(transactions):
    site = with_site(transactions)
    gone, stays = builders.person(site, "Ada Quill"), builders.person(site, "Bo Tarn")
    with transactions.writing() as tx:
        for number, person in enumerate((gone, gone, stays)):
            if number != 1:
                tx.registers.add_person(person, builders.NOW)
            stamps = (builders.NOW,) * 3
            tx.registers.add_session(Session(str(number) * 64, site.id, person.id, None, *stamps))
        tx.registers.end_sessions_of(builders.NOW, person_id=gone.id)
        ended = [tx.registers.session(str(number) * 64).ended is not None for number in range(3)]
    assert ended == [True, True, False]
