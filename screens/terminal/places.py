"""Where weeks lie or go to, as a command names it: the address, who asks there, which certificates are trusted."""

import os
import sys


def destination_of(options, to, last):
    """Promise the destination at `to`, and the certificates trusted for it; `last` is where weeks last went.

    Asks for a password where a user is named and none stands in the environment. Raises as `data.destinations` does.
    """
    from getpass import getpass

    from data.destinations import Credentials, destination

    # Kept in memory only: a password on the command line would stand in lists of processes and in histories.
    user = options.user or os.environ.get("BASINBELL_SEND_USER", "")
    password = os.environ.get("BASINBELL_SEND_PASSWORD", "")
    if user and not password and sys.stdin.isatty():
        password = getpass(f"password of {user}: ")
    # Certificates given for one server are not trusted for another.
    trusted = options.ca or (last.certificates if to == last.to else "")
    return destination(to, Credentials(user, password), trusted), trusted
