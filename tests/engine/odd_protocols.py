"""Benches that run one small protocol of the tests, so that a rule can be met that no shipped protocol brings up."""

from __future__ import annotations

from driver import LIBRARY, Bench
from load_cases import GOOD

from protocols.shelf import Shelf

CLAIMS = (LIBRARY / "chemistries.toml").read_text("utf-8")


def odd(text: str = GOOD, claims: str = CLAIMS) -> Bench:
    """Promise a bench whose scope X1 follows that protocol text, with the bath H4 (OPA, 12:00 at 20 °C)."""
    bench = Bench(texts=Shelf({"good.toml": text}, claims))
    bench.must("add-scope", "X1", protocol="good")
    return bench


def enabled(claim_id: str) -> str:
    """Promise the chemistries as a lead would leave them who has confirmed that claim against its label."""
    head, claim, rest = CLAIMS.partition(f'id = "{claim_id}"\n')
    this, mark, others = rest.partition("[[claim]]")
    this = this.replace("enabled = false\n", "").replace('how = "memory"', 'how = "IFU"')
    return head + claim + this + mark + others
