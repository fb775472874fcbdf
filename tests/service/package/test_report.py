"""The report says what the entries say, doubts first, and needs nothing but the package that it lies in."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.entries import KINDS, NewEntry
from service.domain.job import apply
from service.domain.job_state import JobState
from service.domain.pinned import Valve
from service.journal.heads import Head
from service.package.build import build_package
from service.package.packaged import PackagedJob
from service.package.report import report_page
from service.package.report_facts import CAUTIONS, report_facts
from tests.service.domain.jobs import TAG, meet, other, pass_step, pinned, play_to
from tests.service.journal.journals import KEY
from tests.service.package.packages import packaged
from tests.service.package.played import STEP, SealedRig


class Reader(HTMLParser):
    """Collects the text, the links and the tags that were opened and closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.text = ""
        self.open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attributes) -> None:
        self.links += [value for name, value in attributes if name in {"src", "href"}]
        if tag not in {"meta", "br", "img", "path", "rect"}:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes) -> None:
        pass

    def handle_endtag(self, tag) -> None:
        if tag not in {"path", "rect"}:
            assert self.open.pop() == tag, tag

    def handle_data(self, words) -> None:
        if "style" not in self.open:
            self.text += words


def page_of(job: PackagedJob) -> str:
    return report_page(report_facts(job))


def plain(page: str) -> str:
    return " ".join(Reader(page).text.split())


def shown(rig, **changes) -> PackagedJob:
    newest = rig.entries[-1]
    parts = {
        "entries": tuple(rig.entries),
        "head": Head("job-1", newest.seq, newest.hash, newest.received),
        "state": rig.state,
        "media": {digest: f"data/media/{digest}.jpg" for digest in rig.store},
        "withheld": {},
        "fingerprint": KEY.fingerprint,
        "versions": {"limitwitness": "0.1.0"},
    }
    return PackagedJob(**{**parts, **changes})


def stand_there(rig):
    for need in ("travel", "direction"):
        meet(rig, f"{STEP}/{need}")


def claim_all(rig):
    want = {label: "open" if state == "either" else state for label, state in rig.expected(STEP).items()}
    for state in ("closed", "open"):
        labels = [label for label, wanted in want.items() if wanted == state]
        rig.say("contact", {"contacts": labels, "state": state}, step=STEP)
    return want


@pytest.fixture(scope="module")
def played():
    """A checkpoint with a refused photo, a disagreement, another attempt, and a release."""
    rig = play_to(SealedRig(), STEP)
    stand_there(rig)
    want = claim_all(rig)
    rig.photograph_and_read(dict.fromkeys(want, "none"), refused="the photo is blurred")
    rig.photograph_and_read({**want, "12": other(want["12"])})
    rig.judge(STEP)
    rig.agree(STEP, opinion="another_photo")
    claim_all(rig)
    rig.photograph_and_read(want)
    rig.judge(STEP)
    rig.agree(STEP)
    assert rig.release(STEP) is None
    return rig


def test_the_page_is_well_formed_and_links_only_to_the_package(played):
    reader = Reader(page_of(shown(played)))
    assert reader.open == []
    assert reader.links
    assert all(re.fullmatch(r"media/[0-9a-f]{64}\.[a-z0-9]+", link) for link in reader.links)
    assert not re.search(r"https?://|@import|<script|<link", page_of(shown(played)))


def test_every_picture_of_the_page_lies_in_the_package(played, tmp_path):
    package = build_package(played.record(), played.read_media, KEY, tmp_path / "p")
    page = (package / "data" / "report.html").read_text()
    links = Reader(page).links
    assert len(links) == len(played.store)
    assert all((package / "data" / link).is_file() for link in links)


def test_the_same_job_gives_the_same_page(played):
    assert page_of(shown(played)) == page_of(shown(played))


def test_page_one_says_tag_state_people_head_and_job(played):
    text = plain(page_of(shown(played)))
    first = text[: text.index("Contacts at every checkpoint")]
    newest = played.entries[-1]
    for part in (TAG, 'Open, at "Done"', "Vera Stroud", "Tess Arlow", "job-1", newest.hash, KEY.fingerprint):
        assert part in first
    assert '"Closed end, at the set point" was released by Vera Stroud after a blind judgement.' in first


def test_doubts_come_before_everything_else(played):
    text = plain(page_of(shown(played)))
    assert text.index("Open doubts") < text.index("Signed with the key") < text.index("Contacts at every")


def test_every_attempt_is_shown_with_its_number_and_the_disagreement_first(played):
    text = plain(page_of(shown(played)))
    assert "2 attempts, all shown" in text
    assert "Refused: the photo is blurred" in text
    assert "Ended: The second person said: another photo." in text
    first = text[text.index("Attempt 1 of 2") : text.index("Attempt 2 of 2")]
    second = text[text.index("Attempt 2 of 2") : text.index("Contact chart")]
    assert "disputed" in first
    assert "disputed" not in second
    assert first.index("disputed") < first.index("agreed")


def test_the_matrix_gives_word_and_mark_of_the_newest_attempt(played):
    page = page_of(shown(played))
    matrix = page[page.index("Contacts at every checkpoint") : page.index("Attempt 1 of")]
    assert matrix.count('class="verdict') == len(played.state.pinned.chart.contacts)
    assert "agreed" in matrix
    assert "disputed" not in matrix


def test_a_release_shows_the_head_that_its_giver_saw(played):
    release = next(
        entry
        for entry in played.entries
        if entry.kind == "hold_point_released" and entry.body["step"] == STEP
    )
    assert release.body["head"] in plain(page_of(shown(played)))


@pytest.mark.parametrize("word", ["verified", "valid", "invalid", r"\bOK\b", "✓", "✔"])
def test_no_word_or_sign_looks_surer_than_the_record(played, word):
    assert not re.search(word, Reader(page_of(shown(played))).text)


def test_the_usual_cautions_are_said(played):
    text = plain(page_of(shown(played)))
    assert all(caution in text for caution in CAUTIONS)
    assert all(caution in text for step in played.state.pinned.procedure.steps for caution in step.cautions)


def test_a_job_without_doubts_says_what_that_does_not_mean():
    rig = SealedRig()
    for step in rig.state.pinned.procedure.steps:
        if step.id == STEP:
            stand_there(rig)
            want = claim_all(rig)
            rig.photograph_and_read(want)
        pass_step(rig, step.id)
    early = shown(rig, entries=tuple(replace(entry, device_time=None) for entry in rig.entries))
    text = plain(page_of(early))
    assert "Handed back." in text
    assert "None is recorded. That says nothing of what was not recorded." in text


def test_a_stopped_job_says_so_first():
    rig = play_to(SealedRig(), STEP)
    rig.type("control", {"action": "stop_work"}, step=STEP)
    text = plain(page_of(shown(rig)))
    assert "Work is stopped." in text
    assert text.index("Work was stopped by Tess Arlow and not resumed") < text.index(
        "The job is not handed back"
    )


def test_findings_that_are_not_agreed_are_doubts_with_their_reason():
    rig = play_to(SealedRig(), STEP)
    want = claim_all(rig)
    rig.photograph_and_read({**want, "12": other(want["12"])})
    text = plain(page_of(shown(rig)))
    assert '"Closed end, at the set point", contact 12: disputed. It was said to be' in text


def test_a_photo_that_was_not_read_is_a_doubt():
    rig = play_to(SealedRig(), STEP)
    rig.photograph(step=STEP)
    assert "was not read." in plain(page_of(shown(rig)))


def test_withheld_media_and_removed_payloads_are_doubts(played):
    gone = next(iter(played.store))
    entries = tuple(replace(one, body={"redacted": True}) if one.seq == 2 else one for one in played.entries)
    media = {digest: f"data/media/{digest}.jpg" for digest in played.store if digest != gone}
    text = plain(page_of(shown(played, media=media, withheld={gone: "It was lost"}, entries=entries)))
    assert f"What has the hash {gone[:12]} is not in this package: It was lost." in text
    assert "Removed at a person's wish, with the chain intact: what entries 2 said." in text
    assert "The photo is not in this package." in text


def test_a_clock_that_was_off_and_an_item_that_came_late_are_doubts():
    rig = play_to(SealedRig(late={9: 900}), STEP)
    text = plain(page_of(shown(rig)))
    assert "The clock of device phone of tess ran 60.0 minutes ahead of the service's." in text
    assert "Items of device phone of tess came late: entries 9." in text
    assert "late: 9" in text


def test_a_name_that_is_markup_stays_text():
    name = '<img src=x onerror="alert(1)">'
    job = pinned(valve=Valve(TAG, sources=("power", "control_supply"), description=name))
    rig = SealedRig(job)
    page = page_of(shown(rig))
    assert name not in page
    assert "&lt;img src=x" in page


def test_without_a_state_the_entries_are_still_shown(tmp_path):
    text = plain((packaged(tmp_path / "p") / "data" / "report.html").read_text())
    assert "could not be rebuilt from this record" in text
    assert "A photo was taken in" in text
    assert "contact nine closed" in text


def test_a_report_can_be_made_after_every_single_entry(played):
    state = JobState(played.state.pinned)
    for entry in played.entries:
        state = apply(state, entry)
        so_far = shown(played, entries=tuple(played.entries[: entry.seq + 1]), state=state)
        assert f"entry {played.entries[-1].seq}" in plain(page_of(so_far))


def test_a_photo_outside_the_checkpoints_is_shown_too():
    rig = SealedRig()
    rig.photograph_and_read({"9": "closed"}, step="prepare")
    page = page_of(shown(rig))
    assert "Photos outside the checkpoints" in page
    assert all(f"media/{digest}.jpg" in Reader(page).links for digest in rig.store)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False)
    | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
FIELDS = st.sampled_from(
    [
        "step",
        "media",
        "slots",
        "intent",
        "hearing",
        "reading",
        "clip",
        "text",
        "reason",
        "label",
        "verdict",
        "redacted",
    ]
)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([*KINDS, "unheard_of"]),
            st.dictionaries(FIELDS, JSON, max_size=4),
            st.text(max_size=12),
        ),
        max_size=6,
    )
)
def test_whatever_entries_hold_the_report_is_made_and_well_formed(lines):
    entries = tuple(
        NewEntry(kind, body, device="d-1", person="p-1", device_time=time).sealed(
            seq, "2026-11-24T09:00:00Z", "0" * 64
        )
        for seq, (kind, body, time) in enumerate(lines)
    )
    job = PackagedJob(entries, Head("job-1", 0, "0" * 64, ""), None, {}, {}, KEY.fingerprint, {})
    assert Reader(page_of(job)).open == []


def test_every_condition_is_listed_with_its_value_its_person_and_its_entry(played):
    text = plain(page_of(shown(played)))
    part = text[text.index("Steps and what each needed") :]
    part = part[: part.index("What was said")]
    for step in played.state.pinned.procedure.steps:
        for need in step.needs:
            found = played.state.condition(f"{step.id}/{need.id}")
            assert need.says in part
            assert found.by is None or f"entry {found.by}" in part
    assert "0 V" in part
    assert "unmet" in part


def test_a_checkpoint_that_was_not_reached_is_named_below_the_matrix():
    text = plain(page_of(shown(SealedRig())))
    assert "Not reached: Closed end, at the set point." in text
