"""A chemistry claim in words: its conditions, its figures with their sources, and why it can't be used by hand."""

from __future__ import annotations

from protocols.model import Claim, Figure
from screens.moments import span_words
from screens.setup.choosing import Option
from screens.words import say, shipped

# Figures in the order of the page; those in seconds are told as lengths of time.
FIGURES = (
    "contact_s_min", "temp_c_min", "temp_c_max", "reuse_d_max", "opened_d_max", "mec_pct", "strip_dip_s",
    "strip_read_s_min", "strip_read_s_max", "rinse_times", "rinse_s_min", "rinse_l",
)  # fmt: skip
_SPANS = frozenset(("contact_s_min", "rinse_s_min"))


def why_not(claim: Claim) -> str:
    """Promise why a claim can't be picked for a manual soak, "" where it can."""
    if claim.use != "manual":
        return say(f"claim.{claim.use}")
    if claim.enabled:
        return ""
    figures = (getattr(claim, name) for name in FIGURES)
    memory = any(figure is not None and figure.how == "memory" for figure in figures)
    return say("claim.memory" if memory else "claim.unread")


def conditions(claim: Claim) -> str:
    """Promise time, temperature and life of a claim in one line."""
    time = span_words(claim.contact_s_min.value)
    temp = f"{claim.temp_c_min.value:g}" if claim.temp_c_min else say("fact.unknown")
    if claim.single_use:
        return say("claim.under_single", time=time, temp=temp)
    if claim.reuse_d_max is None:
        return say("claim.under_no_life", time=time, temp=temp)
    return say("claim.under", time=time, temp=temp, days=_amount(claim.reuse_d_max.value))


def _amount(value: float) -> int | str:
    """A figure as it is said; a whole one stays a number, for it may decide between day and days."""
    return int(value) if value == int(value) else f"{value:g}"


def claim_option(claim: Claim) -> Option:
    """Promise a claim as a tile: only an enabled manual one may be chosen, the others say why not."""
    return Option(claim.id, shipped(claim.title), conditions(claim), why_not(claim))


def figure_words(name: str, figure: Figure) -> str:
    """Promise a figure of a claim with its unit."""
    value = span_words(figure.value) if name in _SPANS else _amount(figure.value)
    return say(f"figure.{name}.value", value=value)


def source_words(figure: Figure) -> str:
    """Promise where a figure comes from and how that is known."""
    return say("figure.source", source=shipped(figure.source), how=say(f"how.{figure.how}"))
