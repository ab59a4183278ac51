"""Basinbell: the command line, and the way into the app.

Exit codes: 0 fine, 1 a finding, 2 wrong use. This file must load on any Python 3, so that an unsupported one gets a
clear answer; everything else stands in screens/terminal, where listing.py registers every command.
"""

import sys

PYTHON_FIRST, PYTHON_END = (3, 11), (3, 14)


def python_refusal(version):
    """Promise why this Python can't run Basinbell, or "" when it can."""
    have = "Python {}.{}".format(version[0], version[1])  # noqa: UP032 (must load on old Pythons)
    if tuple(version[:2]) < PYTHON_FIRST:
        return have + " is too old: Basinbell needs 3.11 to 3.13, for the standard library's TOML reader (tomllib)."
    if tuple(version[:2]) >= PYTHON_END:
        return have + " is too new: Basinbell needs 3.11 to 3.13, because Kivy 2.3.1 has no build for later ones."
    return ""


if __name__ == "__main__" and python_refusal(sys.version_info):
    sys.exit(python_refusal(sys.version_info))

import os


def main(arguments=None):
    """Promise the exit code of one call of the command line."""
    from protocols.errors import BasinbellError, Defect
    from screens.terminal.homes import FINDING, FINE, WrongUse, wrong_use
    from screens.terminal.listing import parser
    from screens.terminal.opening import run_app

    options = parser().parse_args(arguments)
    if options.demo and options.command:
        return wrong_use("--demo is for the app; leave it out, or leave out the command")
    try:
        return options.run(options) if options.command else run_app(options)
    except Defect:
        raise  # a defect is ours to mend: its traceback is what helps
    except WrongUse as error:
        return wrong_use(error)
    except BasinbellError as error:
        print(error, file=sys.stderr)
        return FINDING
    except (EOFError, KeyboardInterrupt):
        # At a question, or in the middle: what was recorded stays, and whatever was begun can be begun again.
        print("stopped; what was not said to be done is not done", file=sys.stderr)
        return FINDING
    except BrokenPipeError:
        # The reader of our output has gone (such as `| head`): not an error of ours.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE


if __name__ == "__main__":
    sys.exit(main())
