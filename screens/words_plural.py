"""English singulars: messages that read otherwise when the value that counts is one. The plural is in the catalogue.

Other languages have as many forms as their grammar has; which one a number takes is said in the head of their .po file.
"""

from __future__ import annotations

# id: (name of the value that counts, English words for one)
PLURALS: dict[str, tuple[str, str]] = {
    "form.left": ("count", "{count} thing to give"),
    "done.pass_seen": ("count", "{count} pass, debris"),
    "pass.so_far": ("count", "{count} pass so far, until the brush brings none"),
    "fact.passes": ("passes", "{passes} pass, debris on {debris}"),
    "fact.wet": ("count", "still wet {count} time before"),
    "watch.due_more": ("count", "{count} more is due soon: Setup, Upkeep"),
    "send.rest": ("count", "{count} more week, not shown"),
    "week.late_line": ("count", "once, {longest}"),
    "claim.under": ("days", "{time} at {temp} °C or warmer, in use for {days} day"),
    "figure.reuse_d_max.value": ("value", "{value} day"),
    "figure.opened_d_max.value": ("value", "{value} day"),
}
