"""Why an export did not arrive. Nothing is lost by any of these: the week stays in the record and waits."""

from __future__ import annotations

from protocols.errors import DeviceError, TechnicianError


class DeliveryError(DeviceError):
    """The destination did not do what was asked; send again."""


class DestinationAway(DeliveryError):
    """The destination is not there now: stick not plugged in, no network. The week waits for it."""


class DestinationLied(DeliveryError):
    """The destination said that it holds a file, and gives back other bytes. No receipt was kept."""


class CertificateRefused(DeliveryError):
    """The server could not prove who it is; nothing was sent, credentials neither."""


class CredentialsRefused(TechnicianError):
    """The server wants other credentials; give them again."""


# What is wrong with the destination and not with one week of many: the next week would only meet it again, and wrong
# credentials that are given over and over shut out whoever they belong to.
ENDS_A_ROUND = (DeliveryError, CredentialsRefused)


class WeekDiffers(TechnicianError):
    """The destination holds another export of that week, which is never overwritten."""
