"""The error tree, split by who must act.

A refused command is not an error: it is an answer (`protocols.refusals.Refusal`) and changes nothing. An exception
from this tree means that something around the bench needs a person other than the one who just tapped, or a repair.
"""

from __future__ import annotations


class BasinbellError(Exception):
    """Root of the tree; never raised itself."""


class TechnicianError(BasinbellError):
    """The person at the bench gave something that can't be read; type or scan it again."""


class CommandFault(TechnicianError):
    """A command has the wrong shape: unknown name, missing or extra value, wrong type or range.

    Differs from a refusal: a refusal understood the command and said no.
    """


class ProtocolFault(BasinbellError):
    """A protocol, chemistry or limit file breaks a rule; its author must mend it.

    `findings` holds every fault found, each naming file, key, rule and remedy.
    """

    def __init__(self, findings: list[Finding]) -> None:
        super().__init__("\n".join(str(f) for f in findings))
        self.findings = findings


class Finding:
    """One fault in one file: where it is, which rule it breaks, what to do."""

    __slots__ = ("file", "key", "remedy", "rule")

    def __init__(self, file: str, key: str, rule: str, remedy: str) -> None:
        self.file, self.key, self.rule, self.remedy = file, key, rule, remedy

    def __str__(self) -> str:
        return f"{self.file}: {self.key}: {self.rule}; {self.remedy}"

    def __repr__(self) -> str:
        return f"Finding({self!s})"


class DeviceError(BasinbellError):
    """The handheld itself can't do what is asked: disk, clock, or another process in the way."""


class DiskError(DeviceError):
    """A write or read did not succeed; what was asked has NOT been recorded."""


class ClockError(DeviceError):
    """The elapsed clock contradicts itself within one boot; no time can be proven from it."""


class HomeBusy(DeviceError):
    """Another running process owns this home folder."""


class RecordDamaged(DeviceError):
    """The record on disk is not what was written; it is shown read-only and never overwritten."""


class RecordTooNew(DeviceError):
    """The record was written by a newer version of the app; it opens read-only."""


class Defect(BasinbellError):
    """This should never happen: a promise between two parts of the app was broken. Please report it."""


# What reading and folding a line can raise, besides the errors above, where no version of this app has written it.
UNREADABLE = (KeyError, IndexError, TypeError, ValueError, AttributeError, RecursionError, OverflowError)
