"""Whole simulated shifts, each from one seed."""

from __future__ import annotations

from random import Random

from data.audit import Audit
from data.journal import Journal
from data.ledger import Ledger, catch_up
from protocols.shelf import Shelf
from tests.world.actor import Actor
from tests.world.truth import Broken
from tests.world.world import World


def shift(seed: int, shelf: Shelf, hours: float = 8, steps_max: int = 10**9, reopen_every: int = 1) -> World:
    """Promise a world after one shift: `hours` of its time or so many steps, whichever comes first.

    The seed also chooses one to four scopes and the distance of checkpoints. Raises Broken, naming the seed.
    """
    world = World(seed, shelf, Random(seed).choice((3, 25, 100, 400)), reopen_every)
    actor = Actor(world, scopes=1 + seed % 4)
    end_ms = world.clock.true_ms + round(hours * 3_600_000)
    while world.clock.true_ms < end_ms and world.steps < steps_max:
        actor.act()
    world.disk.mend()
    world.app_ends()
    return world


def verify(world: World) -> None:
    """Promise that an audit of the world's record, with its ledger, finds nothing; Broken otherwise."""
    # Both slots of the witness anew: one may still be torn from the last power cut.
    world.touch()
    world.touch()
    home = world.home()
    journal = Journal(home)
    journal.open()
    catch_up(Ledger(home), journal)
    audit = Audit(home, [], pause=lambda seconds: None)
    if found := [str(difference) for difference in audit.differences()]:
        raise Broken(f"seed {world.seed}: the record does not verify: {found}")
