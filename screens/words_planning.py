"""English words of planning: what comes next and why, what starting a scope would do, when scopes are ready."""

PLANNING_WORDS = {
    # why a scope comes next
    "plan.why.limit": "next: its limit is {time}",
    "plan.why.soak": "next: then it soaks while others are served",
    "plan.why.before": "next: fits in before {tag} at {time}",
    "plan.why.clean": "next: while your gloves are clean",
    "plan.why.done": "next: then it is done",
    "plan.why.order": "next by the plan",
    # what the next half hour brings
    "plan.late": "{tag} will be {time} past its limit, {at}",
    "plan.lates": "{count} will be past limits, first {tag} {at}",
    # receive
    "plan.starting": "Starting {tag} now would leave {others} past the limit",
    "plan.other": "{tag} {time}",
    "plan.start_in": "start in {time}, from {at}",
    "plan.no_start": "no safe start within an hour",
    "plan.must": "but its own cleaning must begin by {at}",
    "plan.advice": "{warning}; {when}",
    "plan.cut_short": "{words} (planned in haste)",
    "receive.wanted": "wanted ready",
    "receive.wanted_none": "not said",
    "receive.wanted_when": "Wanted ready by",
    # what planning goes by, in Setup
    "unit.hands": "People who work at once",
    "unit.clean_hands": "Of the clean side's own (0: the same people)",
    "unit.change_s": "Change of gloves and apron, hand hygiene, min",
    "unit.sinks": "Cleaning sinks",
    "unit.ports": "Drying ports",
    "unit.bath_holds": "Scopes in one disinfectant bath",
    "unit.minutes": "{minutes:g} min",
    # when scopes are ready
    "ready.title": "ready by",
    "ready.line": "{tag}  {middle}, half: {a} to {b}, 9 of 10: {c} to {d}",
    "ready.slack": "wanted {at}: {time} to spare",
    "ready.short": "wanted {at}: likely {time} late",
    "ready.helps": "{what} would bring it {time} forward",
    "ready.held": "Forecasts that held, of {count}: half {half} ({half_pct} %), 9 of 10 {most} ({most_pct} %)",
    "ready.none_held": "How well forecasts held is shown here once a scope is ready.",
    # what helps, on the Watch
    "plan.load": "By the plan, for the scopes that are here; those still to come are not in it.",
    "plan.foreseen_line": "{tag}: {time} past its limit at {at}",
    "plan.none_foreseen": "By the plan nothing comes past a limit.",
    "plan.helps": "Helps most: {what}, {how}",
    "plan.less_late": "{time} less past limits",
    "plan.sooner": "all done {time} sooner",
    "plan.more.hands": "a second pair of hands",
    "plan.more.clean_hands": "another pair of hands on the clean side",
    "plan.more.sink": "another sink",
    "plan.more.bath": "another disinfectant bath",
    "plan.more.port": "another drying port",
    "plan.more.later": "leaving {tag} for later",
}
