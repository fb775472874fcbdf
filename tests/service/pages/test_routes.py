from html.parser import HTMLParser

import pytest

from service.api import asking as api_asking
from service.pages import asking
from service.pages.rendering import instant_in_words
from tests.builders import AT_CLOSED_END, photo
from tests.driving import PASSWORD, open_sample_job

HEADINGS = "Said, seen, and what the chart wants"


class Parsed(HTMLParser):
    """Collects what would need a looser policy: text in scripts, styles, handlers in attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.loose, self.inside = [], ""

    def handle_starttag(self, tag, attrs):
        self.inside = tag
        self.loose += [f"{tag} {name}" for name, _ in attrs if name.startswith("on") or name == "style"]
        self.loose += [
            f"{tag} {value}" for name, value in attrs if name in {"src", "href"} and "//" in (value or "")
        ]
        self.loose += ["style"] if tag == "style" else []

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if self.inside == "script" and data.strip():
            self.loose.append(f"script {data[:40]}")


@pytest.fixture
def browse(at_photo_step, caller):
    """Return a function that signs a person in with a cookie, as the pages do; it returns a reader."""

    def sign_in(name, device=None):
        one = caller()
        body = {"name": name, "password": PASSWORD, "keep": "cookie", "device_token": device}
        one.ok(one.post("/v1/session", body))
        return lambda path: one.http.get(path, follow_redirects=False)

    return sign_in


@pytest.fixture
def technician(browse, at_photo_step):
    return browse("tamsin.oake", at_photo_step.device_token)


@pytest.fixture
def verifier(browse):
    return browse("ivo.lark")


def paths(job):
    every = ("/", "/sign-in?again=1", "/invitation", "/jobs", "/desk", "/desk/now")
    return (*every, *(f"/{room}" for room in (f"jobs/{job}", f"jobs/{job}/now")), *at_desk(job), "/jobs/none")


def at_desk(job):
    return f"/desk/{job}/closed_end", f"/desk/{job}/closed_end/now"


def say_all(person, states, step="closed_end"):
    for state in ("closed", "open"):
        contacts = [label for label, word in states.items() if word == state]
        person.confirm(step, person.say(step, "contact", {"contacts": contacts, "state": state}))


def claim_and_photograph(crew, reader, work_off):
    picture = photo()
    reader.show(picture, AT_CLOSED_END)
    say_all(crew.technician, AT_CLOSED_END)
    crew.technician.photo("closed_end", picture, "image/png")
    work_off()


def test_every_page_comes_with_a_policy_that_lets_nothing_inline_run(technician, verifier, at_photo_step):
    for read in (technician, verifier):
        for path in paths(at_photo_step.job):
            answer = read(path)
            policy = answer.headers["content-security-policy"]
            assert "default-src 'none'" in policy
            assert "unsafe" not in policy
            parsed = Parsed()
            parsed.feed(answer.text)
            assert parsed.loose == [], path


def test_somebody_who_is_not_signed_in_is_sent_to_sign_in_and_back(caller):
    nobody = caller().http
    answer = nobody.get("/jobs/some-job", follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?go=/jobs/some-job"
    assert 'data-go="/jobs/some-job"' in nobody.get(answer.headers["location"]).text
    assert nobody.get("/jobs/some-job/now").status_code == 401


@pytest.mark.parametrize(
    "go", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "x"]
)
def test_the_sign_in_page_leads_to_no_other_site(caller, go):
    assert 'data-go="/"' in caller().http.get("/sign-in", params={"go": go}).text


def test_a_job_that_there_is_not_is_said_in_words(technician):
    answer = technician("/jobs/none")
    assert answer.status_code == 404
    assert "There is no such job on this site." in answer.text
    assert "Nothing that was received is lost." in answer.text


def test_what_people_wrote_is_shown_as_text_never_as_markup(at_photo_step, administrator_again, browse):
    spell = "<script>alert(1)</script>"
    administrator_again(spell)
    shown = browse("tamsin.oake", at_photo_step.device_token)("/jobs").text
    assert spell not in shown
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in shown


@pytest.fixture
def administrator_again(at_photo_step):
    def open_with(description):
        administrator = at_photo_step.administrator
        before = administrator.ok(administrator.get(f"/v1/jobs/{at_photo_step.job}"))["pins"]
        people = {at_photo_step.people["technician"]: ["technician"]}
        body = {
            "valve": {"tag": "RW-204", "description": description},
            "chart": before["chart"],
            "layout": before["layout"],
            "procedure": "one_checkpoint",
            "people": people,
        }
        if before.get("reference"):
            body["reference"] = before["reference"]
        return administrator.ok(administrator.post("/v1/jobs", body))

    return open_with


def test_the_technician_is_told_what_the_chart_wants_only_after_claim_and_photo(
    at_photo_step, technician, reader, work_off
):
    page = f"/jobs/{at_photo_step.job}/now"
    assert HEADINGS not in technician(page).text
    say_all(at_photo_step.technician, AT_CLOSED_END)
    assert HEADINGS not in technician(page).text
    picture = photo()
    reader.show(picture, AT_CLOSED_END)
    at_photo_step.technician.photo("closed_end", picture, "image/png")
    work_off()
    assert HEADINGS in technician(page).text


def test_the_verifier_sees_the_photo_alone_until_the_judgement_is_stored(
    at_photo_step, verifier, reader, work_off
):
    claim_and_photograph(at_photo_step, reader, work_off)
    for path in at_desk(at_photo_step.job):
        before = verifier(path).text
        assert 'id="photo"' in before
        assert 'class="verdict' not in before
        assert "just tripped" not in before
    stated = {"tag": "RW-204", "required": AT_CLOSED_END, "seen": AT_CLOSED_END}
    at = f"/v1/jobs/{at_photo_step.job}/steps/closed_end"
    at_photo_step.verifier.ok(at_photo_step.verifier.post(f"{at}/judgement", stated))
    after = verifier(at_desk(at_photo_step.job)[1]).text
    assert after.count('class="verdict agreed"') == len(AT_CLOSED_END)
    assert "What was measured in it" in after


def test_a_part_that_did_not_change_carries_the_same_mark_and_one_that_did_another(at_photo_step, technician):
    page = f"/jobs/{at_photo_step.job}/now"
    first, second = (technician(page).text.split('data-mark="')[1][:16] for _ in range(2))
    assert first == second
    at_photo_step.technician.post(f"/v1/jobs/{at_photo_step.job}/stop", {"reason": "a smell"})
    third = technician(page).text
    assert third.split('data-mark="')[1][:16] != first
    assert "By Tamsin Oake: a smell." in third
    assert "It does not stop the motor." in third


def test_modules_and_sheets_are_served_and_asked_for_anew(caller):
    answer = caller().http.get("/static/capture.js")
    assert answer.status_code == 200
    assert "javascript" in answer.headers["content-type"]
    assert answer.headers["cache-control"] == "no-cache"
    assert caller().http.get("/static/../rendering.py").status_code == 404


def test_the_pages_know_the_cookie_by_the_name_that_the_interface_gives_it():
    assert asking.COOKIE == api_asking.COOKIE


def test_an_instant_is_told_with_its_zone():
    assert instant_in_words("2031-05-06T07:08:09.000000Z") == "6 May 2031, 07:08 UTC"


def test_things_past_a_gap_are_counted_and_can_be_gone_on_without(at_photo_step, technician):
    page = f"/jobs/{at_photo_step.job}/now"
    assert "data-gap" not in technician(page).text
    at_photo_step.technician.seq += 2
    at_photo_step.technician.say("closed_end", "contact", {"contacts": ["9"], "state": "open"})
    shown = technician(page).text
    assert "1 thing from this phone waits for an earlier one" in shown
    missing = at_photo_step.technician.seq - 1
    assert f'data-gap="{missing}"' in shown


def test_the_release_step_leads_to_each_checkpoint_that_is_to_be_judged(at_photo_step, browse):
    people = {
        at_photo_step.people["technician"]: ["technician"],
        at_photo_step.people["verifier"]: ["verifier"],
    }
    job = open_sample_job(at_photo_step.administrator, people, "default")
    shown = browse("ivo.lark")(f"/desk/{job}/second_person").text
    for step, place in (("closed_still", "at the hard stop of the closed end"), ("as_left", "at mid travel")):
        assert f'href="/desk/{job}/{step}"' in shown
        assert place in shown
    assert shown.count('"how">to judge<') == 5
    assert "still tripped" not in shown


def test_the_page_says_what_the_photo_does_not_show_and_asks_for_the_upper_edge(
    technician, at_photo_step, reader, work_off
):
    picture = photo()
    reader.show(picture, {**AT_CLOSED_END, "12": "none", "20": "none"})
    dark = "R2 is too dark: hold the torch from the other side."
    reader.say(
        picture,
        {
            "rotors": [{"id": "R2", "state": "unreadable", "reason": dark}],
            "registration": {"way_up": "not told", "upper_edge": "the one along R1 and R2"},
        },
    )
    at_photo_step.technician.photo("closed_end", picture, "image/png")
    work_off()
    page = technician(f"/jobs/{at_photo_step.job}").text
    assert f'data-speak="{dark}"' in page
    assert 'data-upper-edge="the one along R1 and R2"' in page
    again = photo(70, 48)
    reader.show(again, AT_CLOSED_END)
    at_photo_step.technician.photo("closed_end", again, "image/png")
    work_off()
    page = technician(f"/jobs/{at_photo_step.job}").text
    assert dark not in page
    assert "data-upper-edge" not in page
