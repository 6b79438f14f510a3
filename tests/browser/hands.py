"""A technician's hands in the browser, at a machine that answers as the simulator says; taps and keys are counted.

The technician does what the card says, sees what the machine shows, and taps the answer that says so.  What no answer
on the card says is entered under "saw something else".
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from browser.chrome import SIZES, overflow, photograph
from browser.machines import BOOK, Machine
from browser.saying import is_claimed, is_so, pictures_asked, says, words_of
from playwright.sync_api import Locator, Page

from halfsplit.job.units import OWNER
from halfsplit.model.job import YES, Entry, Inspect, Measure, Run

SETTLED_MS = 600_000
SENT = "main:not([aria-busy])"
"""What is there when nothing that was tapped is on its way any more."""

ADVISED = '.card:not(.likely), #live[data-refresh=""]'
"""What is on the sheet once there is advice, or it is known that there will be none."""

UNSEEN = '.looks li:has-text("not looked at since")'
"""A place on the rebuild list that nobody has looked at since the work."""

FAILING = {
    "cold": "- run: {cold: yes, not: log_in, picture: {used: {self_test: yes}}}",
    "all": "- run: {load: all, minutes: 30, reached: log_in, stop: yes}",
}
"""What the button beside a proof run enters."""

PROOFS = ("cold",) * 5 + ("all",)
"""Five cold starts and half an hour under every load (common practice)."""


@dataclass
class Hands:
    """A technician at one machine.

    Args:
        page: the browser's page.
        machine: the machine.
        name: what the pictures are called by.
        folder: where pictures of each step go, on each size of screen; "" = see ``photograph``.

    Attributes:
        taps, keys: what was tapped and typed.
        path: the cards that were followed, with the answer.
        waited: seconds from each answer to the new advice.
        unanswered: cards none of whose answers said what was seen, with that.
        too_wide: steps at which the page was wider than one of the screens.
        asks_first: whether the owner is asked before the first repair.
        is_approved: whether the owner has said yes.
        is_sound: whether the last run after a repair went to log-in with a picture and stayed there.
    """

    page: Page
    machine: Machine
    name: str
    folder: str = ""
    taps: int = 0
    keys: int = 0
    path: list[str] = field(default_factory=list)
    waited: list[float] = field(default_factory=list)
    unanswered: list[str] = field(default_factory=list)
    too_wide: list[str] = field(default_factory=list)
    asks_first: bool = False
    is_approved: bool = False
    is_sound: bool = False

    def tap(self, target: Locator) -> None:
        """Tap something; what it is folded into is opened first."""
        self.unfold(target)
        target.click()
        self.page.locator(SENT).wait_for(state="attached")
        self.taps += 1

    def unfold(self, target: Locator) -> None:
        """Open what something is folded into, if it is."""
        if not target.is_visible():
            self.tap(self.page.locator("details:not([open])", has=target).first.locator("summary").first)

    def press(self, text: str) -> None:
        """Tap a button or a link by what stands on it."""
        self.tap(self.page.locator("button, a.button", has_text=text).first)

    def take_in(self, *tiles: str) -> None:
        """Take a machine in: its tiles are tapped, nothing is typed."""
        self.page.goto("/")
        self.press("Take a machine in")
        for tile in tiles:
            self.tap(self.page.locator("label.tile", has_text=tile).first)
        self.tap(self.page.get_by_test_id("open").first)
        self.picture("open")

    def settle(self) -> str:
        """Wait until the new advice is there, and return the id of the card; the suspicions may come later."""
        begin = time.monotonic()
        self.page.locator(ADVISED).first.wait_for(state="attached", timeout=SETTLED_MS)
        self.waited.append(time.monotonic() - begin)
        return self.card

    @property
    def card(self) -> str:
        """The id of the card, or ""."""
        found = self.page.get_by_test_id("card")
        return (found.first.get_attribute("data-card") or "") if found.count() else ""

    @property
    def kind(self) -> str:
        """What kind of thing the card says: as it is written over it."""
        return self.page.locator(".card .over").first.inner_text().strip().lower()

    def answers(self) -> list[tuple[str, Locator]]:
        """Return what each answer of the card would enter, and its button."""
        found = self.page.get_by_test_id("answer")
        return [(each.get_attribute("value") or "", each) for each in found.all()]

    def follow(self) -> None:
        """Do what the card says, and tap the answer that says what was seen."""
        card = self.card
        answers = [(self.machine.read(text), button) for text, button in self.answers() if text]
        numbers = self.page.locator(".card .numbers input").all()
        if "repair" in self.kind:
            self._repair(card, answers)
            return
        if not answers and not numbers:
            self.path.append(f"{card}: nothing to tap")
            self.tap(self.page.get_by_role("button", name="Could not"))
            return
        asked = list(answers[0][0]) if answers else []
        signs = sorted({name for entries, _ in answers for e in entries if isinstance(e, Run) for name in e.seen.signs})
        signs += [
            f"picture:{output}:{stage}"
            for output, stages in sorted(pictures_asked(entries for entries, _ in answers).items())
            for stage in sorted(stages)
        ]
        seen = self.machine.show(asked, [sign for sign in signs if not sign.startswith("picture:")])
        self._note_runs(seen)
        self._measure(numbers)
        fitting = next((button for entries, button in answers if says(entries, seen)), None)
        said = "; ".join(words_of(each) for each in seen)
        if fitting is not None:
            self.path.append(f"{card}: {fitting.locator('.said').inner_text()}")
            self.tap(fitting)
        elif numbers and not answers:
            self.path.append(f"{card}: numbers")
            self.press("Enter the numbers")
        else:
            self.path.append(f"{card}: SOMETHING ELSE {said}")
            self.unanswered.append(f"{card}: {said}")
            self._something_else(seen)

    def work(self, most_cards: int, proofs: Sequence[str] = PROOFS) -> bool:
        """Do what the cards say, in their order, until the machine holds after a repair; return whether it is proven.

        The technician goes to the proof when the card says so; what does not hold then is hunted on by the cards.
        Without ``proofs`` the owner saw it run, and that is enough.
        """
        for _ in range(most_cards):
            card = self.settle()
            self.picture(f"card {card}")
            if "repair" in self.kind and self.asks_first and not self.is_approved:
                self.approve()
                self.is_approved = True
                continue
            if "decide" in self.kind:
                self.path.append(f"{card}: not decided")
                return False
            if "prove" in self.kind:
                if self.rebuild() and self.prove(proofs):
                    return True
                continue
            self.follow()
        return False

    def _note_runs(self, seen: Sequence[Entry]) -> None:
        for entry in seen:
            if isinstance(entry, Run) and entry.on == OWNER:
                lit = [is_lit for stages in entry.seen.picture.values() for is_lit in stages.values()]
                self.is_sound = entry.seen.stayed and all(lit) and not _odd_sign(entry)

    def _measure(self, numbers: Sequence[Locator]) -> None:
        for each in numbers:
            what, load, on = (each.get_attribute("name") or "").removeprefix("number:").split(":")
            (shown,) = self.machine.show([Measure("", what=what, load=load or "idle", on=on or "owner")], ())
            assert isinstance(shown, Measure)
            each.fill(f"{shown.value:g}")
            self.keys += len(f"{shown.value:g}")

    def _repair(self, card: str, answers: Sequence[tuple[tuple[Entry, ...], Locator]]) -> None:
        """Do what the first answer says; where another one says that a run after it held, run it."""
        done, button = answers[0]
        self.machine.show(done, ())
        self.is_sound = False
        for entries, other in answers[1:]:
            if isinstance(run := entries[-1], Run):
                seen = self.machine.show([run], ())
                self._note_runs(seen)
                if is_so(run, seen[0]):
                    button = other
        self.path.append(f"{card}: {button.locator('.said').inner_text()}")
        self.tap(button)

    def _something_else(self, seen: Sequence[Entry]) -> None:
        """Enter what the card has no answer for, on the page of what is seen by the way: the oddest thing of it."""
        self.press("Saw something else")
        target = next((found for entry in seen if (found := self._odd(entry)) is not None), None)
        if target is not None:
            self.tap(target)
            if (back := self.page.get_by_test_id("to-sheet")).count():
                self.tap(back)
            self.page.goto(self.page.url.partition("#")[0])
            return
        self.page.go_back()
        self.taps += 1
        self.tap(self.page.get_by_role("button", name="Not sure"))

    def _odd(self, entry: Entry) -> Locator | None:
        """Return the button that enters what is odd in what was seen; None where nothing is."""
        if isinstance(entry, Inspect) and entry.seen != BOOK.inspections[entry.what.partition(".")[0]].seen[-1]:
            return self.page.locator(f'button[value*="at: {entry.what}, seen: {entry.seen}"]').first
        if not isinstance(entry, Run):
            return None
        sign = _odd_sign(entry)
        if entry.seen.stayed and sign:
            return self.page.locator(f'button[value*="{sign}: yes"]').first
        for button in self.page.get_by_test_id("ending").all():
            (said,) = self.machine.read(button.get_attribute("value") or "")
            assert isinstance(said, Run)
            if is_claimed(said.seen, entry.seen):
                return button
        return self.page.locator(f'button[value*="{sign}: yes"]').first if sign else None

    def rebuild(self) -> bool:
        """Do what the card sends to the rebuild list for, if it does; return whether everything there was fine.

        What is not fine is entered, and hunted on by the cards.
        """
        if not (there := self.page.get_by_test_id("to-rebuild")).count():
            return True
        self.tap(there)
        self.picture("rebuild")
        while (back := self.page.locator(".chip.changed")).count():
            self.path.append(f"put back: {back.first.inner_text()}")
            self.machine.show(
                self.machine.read(back.first.locator("xpath=..").locator("[name=entry]").input_value()), ()
            )
            self.tap(back.first)
        odd = self._look_again()
        self.path.append(f"rebuild list: {'; '.join(odd) or 'all fine'}")
        for text in odd:
            self.tap(self.page.locator(f'.looks button[value="{text}"]'))
        if (fine := self.page.get_by_test_id("all-fine")).count():
            self.tap(fine)
        while (left := self.page.locator(UNSEEN)).count():
            self.tap(left.first.locator("button").first)
        self.tap(self.page.get_by_test_id("on"))
        return not odd

    def _look_again(self) -> list[str]:
        """Look at all that nobody has looked at since the work; return what is entered of what is not fine."""
        odd = []
        for each in self.page.locator(UNSEEN).all():
            texts = [button.get_attribute("value") or "" for button in each.locator("button").all()]
            (seen,) = self.machine.show(self.machine.read(texts[0]), ())
            assert isinstance(seen, Inspect)
            odd += [text for text in texts[1:] if says(self.machine.read(text), [seen])]
        return odd

    def prove(self, runs: Sequence[str]) -> bool:
        """Tap the proof runs, each after the machine was watched to the end; return whether all held."""
        texts = {
            "cold": "- run: {cold: yes, reached: log_in, stop: none}",
            "all": "- run: {load: all, minutes: 30, reached: log_in, stop: none}",
        }
        for run in runs:
            (entry,) = self.machine.read(texts[run])
            assert isinstance(entry, Run)
            (seen,) = self.machine.show([entry], [])
            assert isinstance(seen, Run)
            self._note_runs([seen])
            if not self.is_sound:
                self.path.append(f"proof {run} failed: {words_of(seen)}")
                failing = self.page.get_by_test_id(f"failed-{run}")
                (said,) = self.machine.read(FAILING[run])
                assert isinstance(said, Run)
                if is_claimed(said.seen, seen.seen):
                    self.tap(failing)
                else:
                    self.settle()
                    self._something_else([seen])
                return False
            self.tap(self.page.get_by_test_id(f"proof-{run}"))
            self.path.append(f"proof {run} held")
        return self.is_sound

    def approve(self) -> None:
        """Tell the owner what was found, and note the yes."""
        self.press("Owner told just now")
        self.tap(self.page.locator('button[name="state"][value="approved"]'))
        self.path.append("approved by the owner")
        self.picture("approved")

    def collect(self) -> None:
        """Hand the machine over."""
        self.press("Collection page")
        self.picture("collection")
        self.tap(self.page.get_by_test_id("collect"))

    def picture(self, what: str) -> None:
        """Keep a picture of a step: as it stands, or on each size of screen where there is a folder for them."""
        name = f"{self.name} {len(self.path):02d} {what}"
        if not self.folder:
            photograph(self.page, name)
            return
        self.page.wait_for_load_state()
        for size, (width, height) in SIZES.items():
            self.page.set_viewport_size({"width": width, "height": height})
            if over := overflow(self.page):
                self.too_wide.append(f"{name} {size}: {over} px")
            photograph(self.page, f"{name} {size}", whole=False, folder=self.folder)

    @property
    def number(self) -> int:
        """The number of the job."""
        return int(urlsplit(self.page.url).path.split("/")[2])


def _odd_sign(run: Run) -> str:
    """Return the first sign of a run that a sound machine does not show, or ""."""
    signs = BOOK.signs
    return next((n for n, was in run.seen.signs.items() if was == YES and not signs[n].is_on), "")
