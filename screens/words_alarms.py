"""English words of alarms: what stands in a notice while the app is not in front, and why it asks to be allowed to."""

ALARM_WORDS = {
    "alarms.channel.soon": "Soon",
    "alarms.channel.ready": "Hands are wanted",
    "alarms.channel.late": "Past a limit",
    "alarms.channel.very_late": "Long past a limit",
    "alarms.last": "{what}. No reminder comes after this one: open Basinbell",
    "alarms.restarted": "Scopes are under way",
    "alarms.restarted.how": "Alarms were lost when this handheld or the app was restarted. Open Basinbell.",
    "alarms.ask": "While the screen is off or another app is in front, Basinbell can call you only by notices and "
    "exact alarms of this device. Without them nothing calls until you look. Allow them?",
    "alarms.allow": "Open the device's settings",
    "alarms.later": "Not now",
    "alarms.row": "Alarms while the screen is off",
    "alarms.allowed": "allowed",
    "alarms.missing": "not allowed",
}
