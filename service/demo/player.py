"""Plays a story by HTTP and holds it to its script."""

import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from service.demo.narrator import Narrator
from service.demo.people import Account
from service.demo.story import Act
from service.demo.web import ProblemAnswer

WAIT_S = 60
POLL_S = 0.05
MEDIA = {".ogg": "audio/ogg", ".jpg": "image/jpeg", ".yaml": "application/yaml", ".json": "application/json"}


class WentOtherwise(Exception):  # noqa: N818 - it says what happened
    """The service answered, but not as the script has it; names the act."""


class Player:
    """Plays acts in one job; `clips` and `photos` are the folders of the sample media."""

    def __init__(
        self, job: str, accounts: Mapping[str, Account], media: Mapping[str, Path], narrator: Narrator
    ) -> None:
        self.job = job
        self._accounts = accounts
        self._media = media
        self._narrator = narrator
        self._known_seq = 0
        self._told: object = None

    def play(self, act: Act) -> None:
        """Play one act; raises WentOtherwise where it did not go as scripted."""
        getattr(self, f"_{act.verb}")(act)

    def _tell(self, act: Act) -> None:
        self._narrator.tell(act.what)

    def _say(self, act: Act) -> None:
        """A clip is stored, sent and heard; what permits is given back and confirmed."""
        item, heard = self._speak(act.what, act.step)
        hearing = heard["hearing"]
        if hearing["verdict"] == "refused":
            self._narrator.line("refused", f"{hearing['reason']} ({act.what}.ogg)")
            return self._hold_to(act, "refused")
        self._narrator.line(
            "heard", f'"{hearing["text"]}" at {act.step} (confidence {hearing["confidence"]:.2f})'
        )
        if act.expect == "holds":
            self._narrator.line("at once", f"{heard['read_back']}. It restricts, so nobody is asked first.")
            return self._hold_to(act, "holds" if hearing["slots"].get("negated") else "heard")
        self._hold_to(act, None)
        return self._confirm(act, item, heard["read_back"])

    def _confirm(self, act: Act, item: str, read_back: str) -> None:
        how = act.more["confirm"]
        technician = self._accounts["technician"]
        if how == "tap":
            answer = {
                "kind": "statement",
                "intent": "control",
                "slots": {"action": "read_back_right"},
                "answers": item,
            }
            technician.send_item(self.job, act.step, self._known_seq, answer)
            self._narrator.line("read back", f'"{read_back}": confirmed by the large button')
            return
        _, heard = self._speak(how, act.step)
        said = heard["hearing"]["text"] or "refused"
        self._narrator.line("read back", f'"{read_back}": answered "{said}"')
        if heard["hearing"]["intent"] != "control":
            raise WentOtherwise(f"The answer {how} to the read-back was not heard.")

    def _speak(self, clip: str, step: str) -> tuple[str, dict[str, Any]]:
        technician = self._accounts["technician"]
        media = self._store(technician, self._media["clips"] / f"{clip}.ogg")
        sent = technician.send_item(self.job, step, self._known_seq, {"kind": "clip", "media": media})
        return sent["item"], self._result("clip_heard", "clip", sent["item"])

    def _photo(self, act: Act) -> None:
        """A photo is stored, sent and read; why it was refused is told at once."""
        technician = self._accounts["technician"]
        media = self._store(technician, self._media["photos"] / f"{act.what}.jpg")
        sent = technician.send_item(self.job, act.step, self._known_seq, {"kind": "photo", "media": media})
        self._settle()
        photo = next(one for one in self._attempt(act.step)["photos"] if one["item"] == sent["item"])
        if photo["refused"]:
            self._narrator.line("photo", f"{act.what}.jpg refused: {photo['refused']}")
            return self._hold_to(act, "refused")
        self._narrator.line("photo", f"{act.what}.jpg read")
        self._hold_to(act, None)
        return self._tell_findings(act.step)

    def _tell_findings(self, step: str) -> None:
        findings = self._attempt(step)["findings"]
        if findings is None or findings == self._told:
            return
        self._told = findings
        for one in findings:
            if one["verdict"] != "agreed":
                self._narrator.line(
                    f"contact {one['label']}",
                    f"said {one['claim']}, seen {one['reading']}, chart wants {one['expected']}",
                )
        self._narrator.findings(findings)

    def _findings(self, act: Act) -> None:
        """What was concluded must be what the script says, contact by contact."""
        self._tell_findings(act.step)
        found = {one["label"]: one["verdict"] for one in self._attempt(act.step)["findings"] or ()}
        for verdict, labels in act.what.items():
            wrong = [
                label for label in (found if labels == "all" else labels) if found.get(str(label)) != verdict
            ]
            if wrong or not found:
                raise WentOtherwise(f"{act.step}: {', '.join(wrong) or 'nothing'} is not {verdict}.")

    def _release(self, act: Act) -> None:
        """A hold point is released with a fresh sign-in, naming the head that was seen."""
        account = self._accounts[act.what]
        head = self._head(act, account)
        account.prove()
        path = f"/v1/jobs/{self.job}/steps/{act.step}/release"
        try:
            account.call("POST", path, {"head": head})
        except ProblemAnswer as answer:
            self._narrator.line("held", f"{answer.problem.get('detail', answer)}")
            return self._hold_to(act, "held")
        self._narrator.line("released", f"{act.step} by {account.name}, on head {head[:12]}")
        return self._hold_to(act, None)

    def _judge(self, act: Act) -> None:
        """The second person states tag, required and seen states from the photo and the chart alone."""
        account = self._accounts[act.what]
        shown = account.call("GET", f"/v1/desk/{self.job}/{act.step}")
        newest = shown["attempts"][-1]
        if newest["claims"] is not None or newest["findings"] is not None or shown["expected"] is not None:
            raise WentOtherwise(
                "The desk showed a claim, a finding or an expected state before the judgement."
            )
        for photo in newest["photos"]:
            account.call("GET", f"/v1/media/{photo['media']}")
        account.call("GET", f"/v1/media/{shown['chart']}")
        stated = {"tag": shown["tag"], "required": act.what and act.more["seen"], "seen": act.more["seen"]}
        account.call("POST", f"/v1/jobs/{self.job}/steps/{act.step}/judgement", stated)
        side = account.call("GET", f"/v1/desk/{self.job}/{act.step}")
        self._narrator.line(
            "judged", f"{account.name} states tag, required and seen state of {len(stated['seen'])} contacts"
        )
        blind = "blind: nothing that could prime was served first" if shown["blind"] else "not blind"
        self._narrator.line("blindness", blind)
        self._narrator.findings(side["attempts"][-1]["findings"])

    def _opinion(self, act: Act) -> None:
        account = self._accounts[act.more["by"]]
        account.call("POST", f"/v1/jobs/{self.job}/steps/{act.step}/opinion", {"opinion": act.what})
        self._narrator.line("opinion", f"{account.name}: {act.what.replace('_', ' ')}")

    def _head(self, act: Act, account: Account) -> str:
        place = f"/v1/desk/{self.job}/{act.step}" if act.what == "verifier" else f"/v1/jobs/{self.job}"
        return str(account.call("GET", place)["head"]["hash"])

    def _hold_to(self, act: Act, came: str | None) -> None:
        if act.expect != came:
            due, came = act.expect or "to pass", came or "to pass"
            raise WentOtherwise(f"{act.step}: {act.verb} {act.what} was scripted {due}, it came {came}.")

    def _store(self, account: Account, file: Path) -> str:
        return account.store(MEDIA[file.suffix], file.read_bytes())

    def _view(self) -> dict[str, Any]:
        view: dict[str, Any] = self._accounts["technician"].call("GET", f"/v1/jobs/{self.job}")
        self._known_seq = int(view["head"]["seq"])
        return view

    def _attempt(self, step: str) -> dict[str, Any]:
        at = next(one for one in self._view()["checkpoints"] if one["step"] == step)
        attempt: dict[str, Any] = at["attempts"][-1]
        return attempt

    def _settle(self) -> None:
        """Wait until nothing of the job waits for its hearing or reading."""
        until = time.monotonic() + WAIT_S
        while self._view()["being_worked_on"]:
            if time.monotonic() > until:
                raise WentOtherwise(f"Nothing was heard or read within {WAIT_S} s.")
            time.sleep(POLL_S)

    def _result(self, kind: str, named: str, item: str) -> dict[str, Any]:
        self._settle()
        entries = self._accounts["technician"].call("GET", f"/v1/jobs/{self.job}/entries")
        found = (
            one["body"] for one in entries if one["kind"] == kind and (one["body"] or {}).get(named) == item
        )
        result: dict[str, Any] = next(found)
        return result
