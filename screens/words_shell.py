"""English words of the shell: answers to taps, questions before a command, typing pages."""

SHELL_WORDS = {
    "shell.no": "No, go back",
    "shell.back": "Back",
    "shell.lose": "What you typed is not kept. Leave it?",
    "shell.leave": "Leave",
    "shell.stay": "Stay here",
    "shell.who_leads": "A lead decides this. Who are you?",
    "shell.no_lead": "Nobody on the list is a lead. Setup adds one.",
    "shell.as_lead": "{name} says: {words}",
    "shell.touch_to_close": "touch to put this away",
    "shell.type_more": "type something first",
    "shell.not_a_number": "{text} is not a number",
    "role.lead": "lead",
    "role.technician": "technician",
    "find.unknown": "No scope has the tag {text}",
    "find.unknown.remedy": "look at the tag and scan or type it again; a lead adds a new scope in Setup",
    "leaves.more": "More below, {at} of {of}",
    "leaves.top": "Back to the top, {at} of {of}",
}
