"""English words of the wipe lock, the sound check and practice."""

LOOK_WORDS = {
    # the wipe lock
    "wipe.key": "Wipe",
    "wipe.title": "Wipe the screen now",
    "wipe.how": "Touch does nothing until you press 1, then 2, with one still finger. Prompts go on.",
    "wipe.due": "{tag}  {what}, {when}",
}
