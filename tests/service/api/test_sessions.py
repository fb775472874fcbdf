import pytest

from tests.driving import PASSWORD, add_person, enrol


def test_a_one_time_link_sets_a_password_once(house, caller, administrator):
    added = administrator.ok(
        administrator.post("/v1/persons", {"name": "Bo", "sign_in_name": "bo", "roles": ["technician"]})
    )
    token = added["invitation"]["token"]
    nobody = caller()
    assert nobody.post("/v1/passwords", {"token": token, "password": PASSWORD}).status_code == 200
    again = nobody.post("/v1/passwords", {"token": token, "password": "another long sentence"})
    assert again.status_code == 401
    assert nobody.sign_in("bo")["roles"] == ["technician"]


def test_a_wrong_name_and_a_wrong_password_get_the_same_words(caller, administrator):
    nobody = caller()
    wrong = nobody.post("/v1/session", {"name": "administrator", "password": "not the right one"})
    unknown = nobody.post("/v1/session", {"name": "who is this", "password": "not the right one"})
    assert wrong.status_code == unknown.status_code == 401
    assert wrong.json()["detail"] == unknown.json()["detail"]


def test_too_many_failed_sign_ins_wait_and_are_told_how_long(caller, administrator, clock):
    nobody = caller()
    for _ in range(8):
        nobody.post("/v1/session", {"name": "administrator", "password": "guess"})
    refused = nobody.post("/v1/session", {"name": "administrator", "password": PASSWORD})
    assert refused.status_code == 429
    clock.pass_(seconds=int(refused.headers["Retry-After"]) + 1)
    assert nobody.sign_in("administrator")["name"] == "Administrator"


@pytest.mark.outside(source="OWASP ASVS 5.0, 7.3.1 and 7.3.2: inactivity timeout and absolute lifetime")
@pytest.mark.parametrize(("step_h", "steps"), [(13, 1), (10, 4)])
def test_a_sign_in_ends_by_inactivity_and_at_its_absolute_age(administrator, clock, step_h, steps):
    for _ in range(steps):
        clock.pass_(hours=step_h)
        answer = administrator.get("/v1/session")
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"] == "Bearer"


@pytest.mark.outside(
    source="OWASP ASVS 5.0, 7.4.1: sign-out ends the session; 7.2.4: new token at re-authentication"
)
def test_signing_out_and_proving_again_end_the_old_token(administrator):
    old = administrator.http.headers["Authorization"]
    administrator.prove()
    assert administrator.get("/v1/session").status_code == 200
    assert administrator.get("/v1/session", headers={"Authorization": old}).status_code == 401
    administrator.ok(administrator.http.delete("/v1/session"))
    assert administrator.get("/v1/session").status_code == 401


def test_a_disabled_person_is_out_at_once(caller, administrator):
    person = add_person(administrator, "Bo Tarn", "verifier")
    bo = caller()
    bo.sign_in("bo.tarn")
    administrator.ok(administrator.http.delete(f"/v1/persons/{person}"))
    assert bo.get("/v1/session").status_code == 401
    assert bo.post("/v1/session", {"name": "bo.tarn", "password": PASSWORD}).status_code == 401


@pytest.mark.parametrize("ending", ["revoked", "expired"])
def test_a_revoked_or_expired_device_is_refused_by_name(caller, administrator, clock, ending):
    token = enrol(administrator)
    add_person(administrator, "Bo Tarn", "technician")
    bo = caller()
    device = bo.sign_in("bo.tarn", device_token=token)["device"]
    if ending == "revoked":
        administrator.ok(administrator.http.delete(f"/v1/devices/{device}"))
        assert bo.get("/v1/session").status_code == 401
    else:
        clock.pass_(days=401)
    refused = bo.post("/v1/session", {"name": "bo.tarn", "password": PASSWORD, "device_token": token})
    assert refused.status_code == 403
    assert ending in refused.json()["detail"]


def test_a_cookie_keeps_a_page_signed_in_and_is_not_told_to_scripts(caller, administrator):
    page = caller()
    answer = page.post("/v1/session", {"name": "administrator", "password": PASSWORD, "keep": "cookie"})
    assert answer.json()["token"] is None
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert page.get("/v1/session").json()["name"] == "Administrator"


def test_a_change_by_cookie_from_another_sites_page_is_refused(caller, administrator):
    page = caller()
    page.post("/v1/session", {"name": "administrator", "password": PASSWORD, "keep": "cookie"})
    body = {"name": "phone"}
    foreign = page.http.post(
        "/v1/devices/invitations", json=body, headers={"Origin": "https://elsewhere.example"}
    )
    own = page.http.post("/v1/devices/invitations", json=body, headers={"Origin": "http://testserver"})
    assert (foreign.status_code, own.status_code) == (403, 201)


def test_one_site_never_sees_anothers_persons(house, caller, administrator):
    from service.ports import Site
    from tests import builders

    elsewhere = Site(builders.new_id(), "Elsewhere", {})
    stranger = builders.person(elsewhere, "Una Vane", ("engineer",))
    with house.ports.transactions.writing() as tx:
        tx.registers.add_site(elsewhere, builders.NOW)
        tx.registers.add_person(stranger, builders.NOW)
    listed = administrator.ok(administrator.get("/v1/persons"))
    assert [person["name"] for person in listed] == ["Administrator"]
    assert administrator.http.delete(f"/v1/persons/{stranger.id}").status_code == 404
