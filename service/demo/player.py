"""Plays a story by HTTP and holds it to its script."""

import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from service.demo.narrator import Narrator
from service.demo.people import Account
from service.demo.story import Act
from service.demo.watch import Watch
from service.demo.web import ProblemAnswer

MEDIA = {".ogg": "audio/ogg", ".jpg": "image/jpeg", ".yaml": "application/yaml", ".json": "application/json"}
RIGHT = {"kind": "statement", "intent": "control", "slots": {"action": "read_back_right"}}


class WentOtherwise(Exception):  # noqa: N818 - it says what happened
    """The service answered, but not as the script has it; names the act."""


class Player:
    """Plays acts in one job; `clips` and `photos` of `media` are the folders of the sample media."""

    def __init__(
        self, job: str, accounts: Mapping[str, Account], media: Mapping[str, Path], narrator: Narrator
    ) -> None:
        self.job = job
        self._accounts = accounts
        self._media = media
        self._narrator = narrator
        self._watch = Watch(accounts["technician"], job)
        self._told: object = None
        self._kept: dict[str, tuple[Act, int]] = {}

    def play(self, act: Act) -> None:
        """Play one act; raises WentOtherwise where it did not go as scripted."""
        getattr(self, f"_{act.verb}")(act)

    def _tell(self, act: Act) -> None:
        self._narrator.tell(act.what)

    def _say(self, act: Act) -> None:
        """A clip is stored, sent and heard; what permits is given back and confirmed."""
        self._spoken(act, *self._speak(act, act.what, self._watch.known_seq))

    def _meanwhile(self, act: Act) -> None:
        """A clip is made on a device without signal; it knows of nothing that comes after."""
        self._kept[act.what] = (act, self._watch.known_seq)

    def _arrives(self, act: Act) -> None:
        """A clip that was kept is sent at last."""
        made, known = self._kept.pop(act.what)
        self._narrator.line(
            "late", f"{act.what}.ogg, made at {made.step} before that step had passed, arrives now"
        )
        self._spoken(act, *self._speak(made, act.what, known))

    def _spoken(self, act: Act, item: str, entries: list[dict[str, Any]]) -> None:
        heard = _body_of(entries, "clip_heard", "clip", item)
        hearing = heard["hearing"]
        if hearing["verdict"] == "refused":
            self._narrator.line("refused", f"{hearing['reason']} ({act.what}.ogg)")
            return self._hold_to(act, "refused")
        self._narrator.line("heard", f'"{hearing["text"]}" ({act.what}.ogg, {hearing["confidence"]:.2f})')
        held = [one["body"] for one in entries if _is_held_by(one, item)]
        if held or hearing["slots"].get("negated"):
            self._narrator.line("at once", f"{heard['read_back']}. It restricts, so nobody is asked first.")
            for hold in held:
                self._narrator.line(
                    "held", f"{hold['reason']} Void: {', '.join(hold['voided']) or 'nothing'}."
                )
            return self._hold_to(act, "holds")
        self._hold_to(act, None)
        return self._confirm(act, item, heard["read_back"])

    def _confirm(self, act: Act, item: str, read_back: str) -> None:
        how = act.more.get("confirm", "tap")
        if how == "tap":
            self._accounts[act.by].send_item(
                self.job, act.step, self._watch.known_seq, {**RIGHT, "answers": item}
            )
            self._narrator.line("read back", f'"{read_back}": confirmed by the large button')
            return
        answer, entries = self._speak(act, how, self._watch.known_seq)
        hearing = _body_of(entries, "clip_heard", "clip", answer)["hearing"]
        self._narrator.line("read back", f'"{read_back}": answered "{hearing["text"]}"')
        if hearing["intent"] != "control":
            raise WentOtherwise(f"The answer {how} to the read-back was not heard.")

    def _speak(self, act: Act, clip: str, known_seq: int) -> tuple[str, list[dict[str, Any]]]:
        account = self._accounts[act.by]
        media = self._store(account, self._media["clips"] / f"{clip}.ogg")
        sent = account.send_item(self.job, act.step, known_seq, {"kind": "clip", "media": media})
        return sent["item"], self._watch.entries(sent["entry"])

    def _tap(self, act: Act) -> None:
        """A statement is tapped instead of spoken, and its read-back confirmed."""
        intent, slots = act.what
        account = self._accounts[act.by]
        said = {"kind": "statement", "intent": intent, "slots": slots}
        sent = account.send_item(self.job, act.step, self._watch.known_seq, said)
        self._narrator.line("tapped", f'"{sent["read_back"]}" and confirmed')
        account.send_item(self.job, act.step, sent["entry"], {**RIGHT, "answers": sent["item"]})

    def _marks(self, act: Act) -> None:
        """Moments of a stroke are spoken while the valve runs; the clips are sent when it stands.

        Each entry gives the second at which a clip's recording begins, the clip, and who speaks it.
        """
        began, made = time.monotonic(), []
        for second, clip, *speaker in act.what:
            time.sleep(max(0.0, began + second - time.monotonic()))
            made.append((time.monotonic(), clip, *(speaker or [act.by])))
            self._narrator.line("marked", f"{second:4.1f} s: {clip}.ogg")
        known, sent = self._watch.known_seq, []
        for at, clip, who in made:
            account = self._accounts[who]
            media = self._store(account, self._media["clips"] / f"{clip}.ogg")
            ago = round((time.monotonic() - at) * 1000.0)
            said = {"kind": "clip", "media": media, "began_ms_ago": ago}
            sent.append(account.send_item(self.job, act.step, known, said))
        entries = self._watch.entries(sent[0]["entry"])
        for (_, clip, _), one in zip(made, sent, strict=True):
            hearing = _body_of(entries, "clip_heard", "clip", one["item"])["hearing"]
            if hearing["intent"] != "mark":
                raise WentOtherwise(f"{act.step}: the mark {clip} was not heard: {hearing['reason']}")

    def _stroke(self, act: Act) -> None:
        """The stroke of a step must be judged as the script says; what was concluded is told."""
        strokes = [one for one in self._watch.settled()["strokes"] if one["step"] == act.step]
        if not strokes or strokes[-1]["verdict"] != act.what:
            found = strokes[-1]["lacking"] or strokes[-1]["remarks"] if strokes else "no stroke"
            raise WentOtherwise(f"{act.step}: its stroke was scripted {act.what}, it came {found}.")
        for remark in strokes[-1]["remarks"]:
            self._narrator.line(remark["standing"].replace("_", " "), remark["sentence"])

    def _photo(self, act: Act) -> None:
        """A photo is stored, sent and read; why it was refused is told at once."""
        account = self._accounts[act.by]
        media = self._store(account, self._media["photos"] / f"{act.what}.jpg")
        shown = {"kind": "photo", "media": media, "of": act.more.get("of", "switch")}
        sent = account.send_item(self.job, act.step, self._watch.known_seq, shown)
        photos = [one for one in self._watch.photos(act.step) if one["item"] == sent["item"]]
        refused = next((photo["refused"] for photo in photos if photo["refused"]), None)
        if refused:
            self._narrator.line("photo", f"{act.what}.jpg refused: {refused}")
            return self._hold_to(act, "refused")
        self._narrator.line("photo", f"{act.what}.jpg {'read' if photos else 'stored'}")
        return self._hold_to(act, None)

    def _findings(self, act: Act) -> None:
        """What was concluded must be what the script says, contact by contact."""
        findings = self._watch.attempt(act.step)["findings"] or []
        self._tell_findings(findings)
        found = {one["label"]: one["verdict"] for one in findings if one["verdict"] != "not-judged"}
        for verdict, labels in act.what.items():
            wrong = [one for one in (found if labels == "all" else labels) if found.get(str(one)) != verdict]
            if wrong or not found:
                raise WentOtherwise(f"{act.step}: {', '.join(wrong) or 'nothing'} is not {verdict}.")

    def _tell_findings(self, findings: list[dict[str, Any]]) -> None:
        if findings == self._told:
            return
        self._told = findings
        for one in findings:
            if one["verdict"] not in {"agreed", "not-judged"}:
                said = f"said {one['claim']}, seen {one['reading']}, chart wants {one['expected']}"
                self._narrator.line(f"contact {one['label']}", said)
        self._narrator.findings(findings)

    def _release(self, act: Act) -> None:
        """A hold point is released with a fresh sign-in, naming the head that was seen."""
        account = self._accounts[act.what]
        place = f"/v1/desk/{self.job}/{act.step}" if act.what == "verifier" else f"/v1/jobs/{self.job}"
        head = account.call("GET", place)["head"]["hash"]
        account.prove()
        try:
            account.call("POST", f"/v1/jobs/{self.job}/steps/{act.step}/release", {"head": head})
        except ProblemAnswer as answer:
            self._narrator.line("held", str(answer.problem.get("detail", answer)))
            return self._hold_to(act, "held")
        self._narrator.line("released", f"{act.step} by {account.name}, on head {head[:12]}")
        return self._hold_to(act, None)

    def _judge(self, act: Act) -> None:
        """The second person states tag, required and seen states from the photo and the chart alone."""
        account = self._accounts[act.by]
        shown = account.call("GET", f"/v1/desk/{self.job}/{act.step}")
        newest = shown["attempts"][-1]
        if newest["claims"] is not None or newest["findings"] is not None or shown["expected"] is not None:
            raise WentOtherwise(
                "The desk showed a claim, a finding or an expected state before the judgement."
            )
        for photo in newest["photos"]:
            account.call("GET", f"/v1/media/{photo['media']}")
        account.call("GET", f"/v1/media/{shown['chart']}")
        seen = {label: state for state, labels in act.what.items() for label in labels}
        stated = {"tag": shown["tag"], "required": {**seen, **act.more.get("required", {})}, "seen": seen}
        account.call("POST", f"/v1/jobs/{self.job}/steps/{act.step}/judgement", stated)
        side = account.call("GET", f"/v1/desk/{self.job}/{act.step}")
        how = "blind: nothing that could prime was served first" if side["blind"] else "not blind"
        self._narrator.line("judged", f"{account.name}, {len(seen)} contacts at {act.step}, {how}")
        self._tell_findings(side["attempts"][-1]["findings"])

    def _opinion(self, act: Act) -> None:
        account = self._accounts[act.by]
        given = {"opinion": act.what, "reason": act.more.get("reason", "")}
        account.call("POST", f"/v1/jobs/{self.job}/steps/{act.step}/opinion", given)
        self._narrator.line(
            "opinion", f"{account.name}: {act.what.replace('_', ' ')}. {given['reason']}".strip()
        )

    def _hold_to(self, act: Act, came: str | None) -> None:
        if act.expect != came:
            due, came = act.expect or "to pass", came or "to pass"
            raise WentOtherwise(f"{act.step}: {act.verb} {act.what} was scripted {due}, it came {came}.")

    def _store(self, account: Account, file: Path) -> str:
        return account.store(MEDIA[file.suffix], file.read_bytes())


def _body_of(entries: list[dict[str, Any]], kind: str, named: str, item: str) -> dict[str, Any]:
    """Return the body of the newest entry of a kind that names an item; empty where there is none."""
    found = (one["body"] for one in reversed(entries) if one["kind"] == kind and one["body"])
    return next((body for body in found if body.get(named) == item), {})


def _is_held_by(entry: Mapping[str, Any], item: str) -> bool:
    return entry["kind"] == "gate_held" and (entry["body"] or {}).get("because") == item
