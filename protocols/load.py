"""From TOML text to a `Protocol` or to claims: all of it is right, or every fault is named.

The text comes from anywhere (a shipped file, a lead's own, a torn or hostile one), so its size is limited
before it is parsed. The key paths in findings count steps and claims from 1.
"""

from __future__ import annotations

import hashlib
import tomllib

from protocols.errors import Finding, ProtocolFault
from protocols.model import CLAIM_USES, ORIGINS, Claim, Delay, Figure, Protocol, Step
from protocols.read_figures import Table, is_id, shown
from protocols.read_steps import read_step
from protocols.rules import order_findings

TEXT_BYTES_MOST = 256 * 1024
# Keeps the parser's work bounded: dotted keys cost the square of their depth.
LINE_LONGEST = 1_000
STEPS_MOST = 200
CLAIMS_MOST = 200
CHANNELS_MOST = 12
_TOP_KEYS = (
    "id", "title", "family", "spoken", "version", "channels", "disinfect_by", "claims", "cautions",
    "hang_s_max", "short_clean_s", "delay", "step",
)  # fmt: skip
_CLAIM_FIGURES = (
    "contact_s_min", "temp_c_min", "temp_c_max", "reuse_d_max", "opened_d_max", "mec_pct", "strip_dip_s",
    "strip_read_s_min", "strip_read_s_max", "rinse_times", "rinse_s_min", "rinse_l",
)  # fmt: skip
_CLAIM_TEXTS = ("strip_type", "gloves", "exposure", "never_for", "cautions")
_CLAIM_FLAGS = ("needs_activation", "single_use", "enabled")


def read_protocol(text: str, file: str) -> Protocol:
    """Promise the protocol of a TOML text, with `text_sha256` over its UTF-8 bytes and `positions` filled.

    `file` only names the text in findings. Raises ProtocolFault with every finding; rules on the order of
    steps are judged once each step can be placed (its id, stage, kind, outcomes and the like are readable).
    """
    top = parsed(text, file)
    top.only(_TOP_KEYS)
    delay = _delay(top)
    steps: list[Step] = []
    placed = True
    for row in top.rows("step", STEPS_MOST):
        step, can_be_placed = read_step(row)
        steps.append(step)
        placed = placed and can_be_placed
    protocol = Protocol(
        id=top.name("id"),
        title=top.text("title", 60),
        family=top.text("family", 40),
        spoken=top.text("spoken", 20),
        version=top.whole("version", 1, 9_999),
        channels=top.texts("channels", CHANNELS_MOST, needed=True, longest=40),
        cautions=top.texts("cautions", 20),
        delay=delay,
        steps=tuple(steps),
        claims=_claim_ids(top),
        disinfect_by=top.word("disinfect_by", ("soak", "machine")),
        hang_s_max=top.figure("hang_s_max"),
        short_clean_s=top.figure("short_clean_s"),
        text_sha256=hashlib.sha256(text.encode("utf-8")).hexdigest(),
        positions={step.id: place for place, step in enumerate(steps)},
    )
    if steps and placed:
        top.findings.extend(order_findings(protocol, file))
    if top.findings:
        raise ProtocolFault(top.findings)
    return protocol


def read_claims(text: str, file: str) -> dict[str, Claim]:
    """Promise the claims of a chemistries text by id, in the order of the file. Raises ProtocolFault."""
    top = parsed(text, file)
    top.only(("claim",))
    claims: dict[str, Claim] = {}
    for row in top.rows("claim", CLAIMS_MOST):
        claim = _claim(row)
        if claim is None:
            continue
        if claim.id in claims:
            row.fault("id", "stands there twice", "give each claim its own id")
        claims[claim.id] = claim
    if top.findings:
        raise ProtocolFault(top.findings)
    return claims


def parsed(text: str, file: str) -> Table:
    """Promise the top table of a text of bounded size. ProtocolFault when there is none."""
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError:
        raise _refused(file, "the text is not valid Unicode", "save the file as UTF-8") from None
    if size > TEXT_BYTES_MOST:
        raise _refused(file, f"the text has {size} bytes", f"shorten it to {TEXT_BYTES_MOST}")
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LINE_LONGEST:
            raise _refused(
                file,
                f"line {number} has {len(line)} characters",
                f"break it into lines of at most {LINE_LONGEST}",
            )
    try:
        return Table(tomllib.loads(text), "", file, [])
    except RecursionError:
        raise _refused(file, "is nested too deeply", "write tables and lists only as deep as the schema") from None
    except ValueError as error:
        # TOMLDecodeError is a ValueError; so is the refusal to read a number of thousands of digits.
        raise _refused(file, f"is not TOML: {error}", "mend that place") from None


def _refused(file: str, rule: str, remedy: str) -> ProtocolFault:
    return ProtocolFault([Finding(file, "text", rule, remedy)])


def _claim_ids(top: Table) -> tuple[str, ...]:
    ids = top.texts("claims", CLAIMS_MOST)
    for claim_id in ids:
        if not is_id(claim_id):
            top.fault("claims", f"{shown(claim_id)} is not a claim id", 'write one like "opa-055-20c"')
    return ids


def _delay(top: Table) -> Delay:
    table = top.table("delay", "write a table [delay] with origin and limit_s_max") or Table({}, "delay", top.file, [])
    table.only(("origin", "limit_s_max", "warn_s"))
    limit, warn = table.figure("limit_s_max", needed=True), table.figure("warn_s")
    if limit and warn and warn.value >= limit.value:
        table.fault("warn_s", f"{warn.value:g} is not below limit_s_max {limit.value:g}", "warn before the limit")
    # The stand-in lets the other faults be found too; a protocol with findings never leaves this file.
    return Delay(table.word("origin", ORIGINS), limit or Figure(0, "", ""), warn)


def _claim(row: Table) -> Claim | None:
    row.only(("id", "title", "use", *_CLAIM_TEXTS, *_CLAIM_FIGURES, *_CLAIM_FLAGS))
    before = len(row.findings)
    claim_id, title, use = row.name("id"), row.text("title", 80), row.word("use", CLAIM_USES)
    contact = row.figure("contact_s_min", needed=True)
    figures = {name: row.figure(name) for name in _CLAIM_FIGURES[1:]}
    needs_activation, single_use = row.flag("needs_activation"), row.flag("single_use")
    enabled = row.flag("enabled", True)
    strip_type, gloves = row.text("strip_type", 60, needed=False), row.text("gloves", needed=False)
    exposure, never_for, cautions = (row.texts(name, 10) for name in ("exposure", "never_for", "cautions"))
    if contact is None or len(row.findings) > before:
        return None
    claim = Claim(
        claim_id, title, use, contact, needs_activation=needs_activation, single_use=single_use,
        enabled=enabled, strip_type=strip_type, gloves=gloves, exposure=exposure, never_for=never_for,
        cautions=cautions, **figures,
    )  # fmt: skip
    _claim_rules(row, claim)
    return claim


def _claim_rules(row: Table, claim: Claim) -> None:
    low, high = claim.temp_c_min, claim.temp_c_max
    if low and high and low.value > high.value:
        row.fault("temp_c_max", f"{high.value:g} is below temp_c_min {low.value:g}", "mend one of the two")
    first, last = claim.strip_read_s_min, claim.strip_read_s_max
    if first and last and first.value > last.value:
        row.fault(
            "strip_read_s_max", f"{last.value:g} is below strip_read_s_min {first.value:g}", "mend one of the two"
        )
    if claim.single_use and claim.reuse_d_max:
        row.fault("reuse_d_max", "stands beside single_use", "keep one of the two")
    if not claim.enabled:
        return
    for name in _CLAIM_FIGURES:
        figure = getattr(claim, name)
        if figure and figure.how == "memory":
            row.fault(
                name, "rests on memory, yet the claim is enabled",
                'confirm it against the label and write how = "IFU", or write enabled = false',
            )  # fmt: skip
    if claim.use == "manual" and claim.temp_c_min is None:
        row.missing("temp_c_min", "a manual claim needs the lowest temperature of its label")
    if claim.use == "manual" and claim.reuse_d_max is None and not claim.single_use:
        row.missing("reuse_d_max", "give the reuse life of the label, or single_use = true")
