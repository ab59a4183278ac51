"""English words about scopes between their cycles, and about handing cycles and shifts over."""

BETWEEN_WORDS = {
    "lane.offered": "Offered to {device}, not confirmed",
    "offered.title": "Offered to {device}",
    "offered.detail": "Go on with it there. Here it is frozen, and prompts go on, until the answer of {device} is read "
    "(Setup, Hand over).",
}
