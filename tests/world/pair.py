"""Two handhelds and a channel that loses, repeats, reorders and alters what it carries: one scope handed to and fro.

The truth kept beside them: who may go on with the scope. A handheld holds it while its cycle is open there and not
offered; never both, and never nobody.
"""

from __future__ import annotations

from functools import cache
from random import Random
from typing import Any

from data.canonical import canonical
from data.door import Door
from data.genuine import Genuine
from data.handover import PacketFault, answers_packet, offers_packet, open_offers, read_packet, take_packet, to_answer
from data.home import Texts
from data.journal import Journal
from data.signing import keep_secret, signer_of
from protocols.chunks import ChunkFault, Gathering, chunks
from protocols.clock import local_date, wall_text
from protocols.cycle import State
from protocols.errors import CommandFault
from protocols.event import Command, Event
from protocols.refusals import Refusal
from protocols.shelf import Shelf
from tests.engine.driver import LIBRARY, Bench
from tests.engine.load_cases import GOOD
from tests.world.truth import Broken, Running, Scope
from tests.world.world import World

TAG, LEAD = "X1", "ann"


@cache
def pair_shelf() -> Shelf:
    """Promise a small protocol with the shipped claims, read once."""
    return Shelf({"good.toml": GOOD}, (LIBRARY / "chemistries.toml").read_text("utf-8"))


class NamedWorld(World):
    """A world whose handheld has a name and a key of its own."""

    def __init__(self, seed: int, shelf: Shelf, name: str) -> None:
        self.name = name
        super().__init__(seed, shelf, checkpoint_every=Random(seed).choice((7, 60, 400)), reopen_every=40)
        keep_secret(self.disk, Random(f"{seed} {name}").randbytes(32))

    def _open(self) -> Door:
        journal = Journal(self.disk, checkpoint_every=self._every)
        return Door(journal, Texts(self.disk), self.clock, self.shelf, self.name, Genuine(self.disk))


class Held(Bench):
    """The engine's bench by the hands of somebody who uses this world's handheld."""

    def __init__(self, world: NamedWorld) -> None:
        self.world, self.shelf, self.tap_s, self.watched, self._poured = world, world.shelf, 1.0, False, 0

    @property
    def unit(self) -> Any:  # type: ignore[override]
        return self.world.door.unit

    @property
    def clock(self) -> Any:  # type: ignore[override]
        return self.world.clock

    def wait(self, seconds: float) -> None:
        self.world.wait(seconds)

    def give(self, do: str, subject: str, by: str = LEAD, after: int | None = None, **values: Any) -> Event | Refusal:
        if do == "choose":
            values["by"] = values.pop("way")
        answer = self.world.give(Command(do, subject, values, by, after))
        assert answer is not None, f"{do} {subject}: nobody was answered"
        return answer

    @property
    def holds(self) -> bool:
        """Whether the scope's cycle is open here, and not offered."""
        cycle = self.unit.cycles.get(TAG)
        return cycle is not None and cycle.offer is None

    def set_up(self, other: Held) -> None:
        for do, subject, values in (
            ("set-unit", "unit", {"zone": "Europe/Berlin"}), ("add-person", LEAD, {"name": "Mira", "role": "lead"}),
            ("adopt-protocol", "good", {}),
            ("pair-handheld", other.world.name, {"public_key": signer_of(other.world.disk).public}),
        ):  # fmt: skip
            self.must(do, subject, **values)

    def tap(self) -> None:
        """The next thing for the scope, by somebody who makes no mistake; a lead decides where it waits."""
        self.wait(1)
        if self.state(TAG) is State.WAITING:
            if isinstance(self.give("decide", TAG, decision="disinfect-again", reason="r"), Refusal):
                self.wait(1)
                self.must("decide", TAG, decision="clean-again", reason="r")
            return
        self.wait(self.left_s(TAG))
        step, label = self.step(TAG), ""
        if (
            step is not None
            and step.bath in ("detergent", "disinfectant")
            and self.state(TAG) in (State.LOOK, State.OUT)
        ):
            label = self.fresh(step.bath)
        do, values = self.ordinary(TAG, label, label)
        answer = self.give(do, TAG, **values)
        if isinstance(answer, Refusal) and answer.key == "no-maximum":
            self.must("decide", TAG, decision="continue", reason="r", soak_s_max=3600)
        elif isinstance(answer, Refusal) and answer.key not in ("early-lift", "too-soon"):
            raise Broken(f"{do} of {TAG}: {answer}")

    def fresh(self, kind: str) -> str:
        """A bath just poured, and for a disinfectant a strip that covers the scope; the record may be days older."""
        label = f"{kind[0]}{self.unit.seq}-{self.world.name}"
        self.pour(label, "opa-055-20c" if kind == "disinfectant" else "")
        if kind == "disinfectant":
            bottle = f"S{self.unit.seq}"
            self.bottle(bottle)
            self.must("strip-test", label, scope=TAG, result="pass", strip_lot=bottle)
        return label


class Pair:
    """One seeded run. `step` does anything; `settle` lets the channel work and ends the cycle; both check."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.sides = [Held(NamedWorld(seed + i, pair_shelf(), name)) for i, name in enumerate(("wa", "wb"))]
        for side, other in (self.sides, self.sides[::-1]):
            side.set_up(other)
        self.channel: list[tuple[Held, bytes]] = []
        self.offered_at: dict[str, tuple[Held, int]] = {}
        self.moves = self.altered = self.refused = 0
        self.ended = False
        first = self.sides[0]
        first.must("add-scope", TAG, protocol="good")
        ended = wall_text(first.clock.read().wall_ms - 600_000, "UTC")
        first.must(
            "receive", TAG, case="26-1", procedure_date=local_date(first.clock.read().wall_ms, "UTC").isoformat(),
            procedure_type="x", procedure_end=ended, precleaned="yes",
        )  # fmt: skip

    def other(self, side: Held) -> Held:
        return self.sides[1 - self.sides.index(side)]

    def step(self) -> None:
        chance, side = self.chance, self.chance.choice(self.sides)
        share = chance.random()
        if share < 0.2:
            self.offer(side)
        elif share < 0.3:
            self.show(side)
        elif share < 0.65 and self.channel:
            self.deliver(chance.randrange(len(self.channel)))
        elif share < 0.85 and side.holds:
            for _ in range(chance.randrange(1, 8)):
                if side.holds:
                    side.tap()
        elif share < 0.9:
            side.world.power_cut(chance.choice((1, 60, 700)))
        elif share < 0.93:
            side.world.step_wall(chance.choice((-3600, -5, 5, 3600)))
        else:
            self.pass_time(chance.choice((1, 60, 700, 1300)))
        self.check()

    def pass_time(self, seconds: float) -> None:
        for side in self.sides:
            side.wait(seconds)

    def offer(self, side: Held) -> None:
        answer = side.give("hand-over", TAG, device=self.other(side).world.name)
        if isinstance(answer, Event):
            self.offered_at[answer.id] = side, side.world.truth.power_ms
            self.show(side)

    def show(self, side: Held) -> None:
        tags = open_offers(side.world.door)
        if tags:
            self.channel.append((self.other(side), self.packet(offers_packet, side, tags, True)))

    def packet(self, make: Any, side: Held, *what: Any) -> bytes:
        packet: bytes = make(side.world.door, signer_of(side.world.disk), *what)
        if self.chance.random() < 0.1:  # by codes, in any order, some of them twice
            texts = chunks(packet)
            texts += self.chance.sample(texts, 1)
            self.chance.shuffle(texts)
            gathering = Gathering()
            for text in texts:
                gathering.take(text)
            if gathering.packet() != packet:
                raise Broken("the codes gave another packet")
        return packet

    def deliver(self, place: int) -> None:
        to, packet = self.channel[place]
        share = self.chance.random()
        if share < 0.6:
            del self.channel[place]
        if share < 0.15:
            return  # lost
        if share > 0.9:
            self.alter(to, packet)
            return
        self.arrive(to, packet)

    def arrive(self, to: Held, packet: bytes, decline: bool | None = None) -> None:
        decline = self.chance.random() < 0.2 if decline is None else decline
        taken = take_packet(to.world.door, packet, LEAD, decline)
        to.world.follow()
        for one in taken:
            if isinstance(one.answer, Refusal):
                self.refused += 1
            elif one.answer.kind == "take-over":
                self.moved(to, one.answer)
        answered = to_answer(to.world.door, taken)
        if answered:
            self.channel.append((self.other(to), self.packet(answers_packet, to, answered)))

    def moved(self, to: Held, event: Event) -> None:
        """Hand the truth over as well: what had run with power at the offer has run, and no more."""
        self.moves += 1
        side, power_ms = self.offered_at[event.data["offer"]]
        known = side.world.truth.scopes[TAG]
        running = known.running
        if running is not None:
            since_ms = to.world.truth.power_ms - (power_ms - running.since_ms)
            running = Running(running.kind, since_ms, running.needed_s)
        to.world.truth.scopes[TAG] = Scope(known.text_sha256, known.step, running, known.proven)

    def alter(self, to: Held, packet: bytes) -> None:
        """One byte of a message is another one: nothing may come of it, whatever the rest of the packet says."""
        self.altered += 1
        messages, _ = read_packet(packet)
        text, signature = self.chance.choice(messages)
        place = self.chance.randrange(len(text))
        other = self.chance.choice([c for c in "0123456789abcxyz" if c != text[place]])
        if self.chance.random() < 0.3:
            signature = self.chance.randbytes(64).hex()
        else:
            text = text[:place] + other + text[place + 1 :]
        changed = canonical({"v": 1, "messages": [{"text": text, "signature": signature}], "texts": []})
        unit = to.world.door.unit
        try:
            taken = take_packet(to.world.door, changed, LEAD)
        except (PacketFault, CommandFault, ChunkFault):
            taken = []
        if any(isinstance(one.answer, Event) for one in taken) or to.world.door.unit is not unit:
            raise Broken(f"an altered message was taken: {text[max(0, place - 20) : place + 20]}")

    def check(self) -> None:
        live = [side for side in self.sides if side.holds]
        open_here = [side for side in self.sides if TAG in side.unit.cycles]
        done = [
            e for side in self.sides if (e := side.unit.scopes.get(TAG)) and e.last and e.last.outcome == "completed"
        ]
        self.ended = self.ended or bool(done)
        if len(live) > 1 or len(done) > 1 or (live and done):
            raise Broken(f"the scope is twice: live on {len(live)}, completed on {len(done)}")
        if not open_here and not done:
            raise Broken("the scope's cycle is lost")

    def settle(self) -> None:
        """From here on nothing is lost any more: every offer is shown and answered, and the cycle is ended."""
        for _ in range(6):
            for side in self.sides:
                for tag in open_offers(side.world.door):
                    packet = offers_packet(side.world.door, signer_of(side.world.disk), [tag], True)
                    self.arrive(self.other(side), packet, decline=False)
            while self.channel:
                to, packet = self.channel.pop(0)
                self.arrive(to, packet, decline=False)
            self.check()
            if not any(open_offers(side.world.door) for side in self.sides):
                break
        else:
            raise Broken("an offer is never answered though nothing is lost")
        for side in self.sides:
            for _ in range(120):
                if side.holds:
                    side.tap()
        self.check()
        if not self.ended or any(TAG in side.unit.cycles for side in self.sides):
            raise Broken("the cycle did not end")
