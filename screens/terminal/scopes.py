"""Commands about scopes between their cycles: where they are."""

from screens.terminal.homes import FINE, record_home


def add_scopes(commands):
    """Add `scopes`, which lists the register."""
    scopes = commands.add_parser("scopes", help="every scope of the unit: where it is now, and how its storage stands")
    scopes.set_defaults(run=run_scopes)


def run_scopes(options):
    from data import scopes_text
    from data.state_beside import unit_beside
    from data.system_clock import SystemClock

    home = record_home(options)
    print("\n".join(scopes_text.lines(*unit_beside(home, SystemClock()))))
    return FINE
