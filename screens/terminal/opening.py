"""Without a command the app opens."""

from data.place import home_folder
from screens.terminal.homes import FINDING, FINE, wrong_use


def run_app(options):
    """Open the app. Whether there is a display is decided before Kivy is imported."""
    from screens.app import display_refusal, open_app, open_demo

    refusal = display_refusal()
    if refusal:
        return wrong_use(refusal)
    if options.demo:
        if options.home is not None:
            return wrong_use("--demo keeps nothing, so it takes no --home; leave one of them out")
        open_demo()
    elif not open_app(options.home or home_folder()):
        return FINDING
    return FINE
