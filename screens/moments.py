"""Dates and lengths of time in words: 25 Nov, 25 Nov 08:38, 6 d 4 h. Needs no window."""

from __future__ import annotations

from datetime import date

from protocols.clock import local
from screens.words import say


def day_words(day: date) -> str:
    """Promise a day as people say it, without its year: 25 Nov."""
    return say("moment.day", day=day.day, month=say(f"month.{day.month}"))


def full_day_words(day: date) -> str:
    """Promise a day with its year: 25 Nov 2026."""
    return say("moment.full_day", day=day.day, month=say(f"month.{day.month}"), year=day.year)


def day_and_time(wall_ms: int, zone: str) -> str:
    """Promise a moment in the unit's zone: 25 Nov 08:38."""
    moment = local(wall_ms, zone)
    return say("moment.day_and_time", day=day_words(moment.date()), time=f"{moment:%H:%M}")


def span_words(seconds: float) -> str:
    """Promise a length of time in its two largest units, rounded down: 6 d 4 h, 3 h 20 min, 12 min, 40 s."""
    whole = max(0, int(seconds))
    if whole < 60:
        return say("span.s", s=whole)
    minutes, hours, days = whole // 60, whole // 3600, whole // 86_400
    if days:
        return say("span.d_h", d=days, h=hours - 24 * days) if hours > 24 * days else say("span.d", d=days)
    if hours:
        return say("span.h_min", h=hours, min=minutes - 60 * hours) if minutes > 60 * hours else say("span.h", h=hours)
    return say("span.min", min=minutes)
