"""English words of a record that can't go on."""

TROUBLE_WORDS = {
    "tab.trouble": "Damage",
    "trouble.todo": "What to do",
    "trouble.where": "Where",
    "trouble.home": "The record lies in {home}",
    "trouble.as_of": "Watch and Ledger show it as it stood on {when}. Times stand still there.",
    "trouble.damaged": "The record is damaged",
    "trouble.damaged.what": "It is only shown: no command is taken here, and nothing of it is changed.",
    "trouble.damaged.todo": (
        "Go on with another handheld or on paper, by each scope's own clock. Keep this handheld as it is, and tell the "
        "lead. main.py verify names every place; bring the damaged files back from an export or a copy, then start "
        "again."
    ),
    "trouble.too_new": "The record is newer than this app",
    "trouble.too_new.what": "It is only shown: no command is taken here, and nothing of it is changed.",
    "trouble.too_new.todo": "Install the version of the app that wrote it, or a newer one, and start again.",
    "trouble.busy": "The record is in use",
    "trouble.busy.what": "Another program has it open. Two at once would spoil it.",
    "trouble.busy.todo": "Go on in the window that is open already, or close that and start again.",
    "trouble.clock": "The clock is in doubt",
    "trouble.clock.what": "No time can be proven, so nothing is opened and nothing is recorded.",
    "trouble.clock.todo": "Restart the handheld and start again. Until then go on by each scope's own clock, on paper.",
    "trouble.disk": "The storage can't be used",
    "trouble.disk.what": "Nothing can be recorded on this handheld now.",
    "trouble.disk.todo": "Do what stands below, then start again. Until then go on with another handheld or on paper.",
}
