"""How marram controls the turning rates, as its release folder declares it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asflown.demo.firmware.releases import Firmware

#: Filters by the label of the choice: block kind and constants.
_FILTERS = {
    "one step": ("one-pole low-pass", '{ rule = "impulse" }'),
    "two steps": ("one-pole low-pass", '{ rule = "impulse", stages = 2 }'),
    "sharp": ("biquad low-pass", "{ quality = 0.7071067811865476 }"),
}

#: What the stick asks for. A pulse goes 500 us to either side of the middle.
_STICK = (
    "",
    "[[stick]]",
    'form = "expo"',
    'dead_band_rule = "stretched"',
    "",
    "[stick.roles]",
    'full_rate = "rate_loop.{axis}.full_stick"',
    'expo = "rate_loop.{axis}.stick_expo"',
    'dead_band = "rate_loop.{axis}.stick_rest"',
)

#: What the firmware multiplies the stick's change by, beside the setting.
LEAD = 0.03125


def declared(firmware: Firmware) -> bytes:
    """The ``control.toml`` of a release."""
    return "\n".join(_lines(firmware)).encode() + b"\n"


def _lines(firmware: Firmware) -> Iterator[str]:
    yield "# The drive of one axis, in motor commands."
    yield "# Not in it: what lift.calm takes off at full lift, what sag.lift adds as the pack empties."
    yield 'rate_role = "rate_loop.rate"'
    yield "latency_steps = 1"
    yield ""
    yield "[holds]"
    yield f'"gyro_filter.kind" = {_known(firmware, "shake.cut")}'
    yield f'"derivative_filter.kind" = {_known(firmware, "shake.calm")}'
    yield '"notch_filter.use" = [0, 1]'
    last = "rate"
    for which in "abc":
        yield from _block(
            f"hum {which}",
            "notch",
            last,
            roles=f'centre = "notch_filter.{which}.centre", width = "notch_filter.{which}.width"',
            when='"notch_filter.use" = [1]',
            unless=f'"notch_filter.{which}.centre" = [0]',
        )
        last = f"hum {which}"
    yield from _filters(firmware, "shake.cut", "gyro_filter", last, "shaken")
    yield from _block("turning", "sum", "shaken", axes='"roll", "pitch"')
    yield from _block(
        "turning",
        "one-pole low-pass",
        "shaken",
        roles='cutoff = "yaw_filter.cutoff"',
        constants='{ rule = "impulse" }',
        unless='"yaw_filter.cutoff" = [0]',
        axes='"yaw"',
    )
    yield from _block("error", "sum", "command", "-turning")
    yield from _gain("firm", "error", "proportional")
    yield from _block("remaining", "integrator", "error")
    yield from _gain("stay", "remaining", "integral")
    yield from _filters(firmware, "shake.calm", "derivative_filter", "turning", "calmer")
    yield from _block("change", "derivative", "calmer")
    yield from _gain("calm", "change", "derivative")
    yield from _block("moved", "derivative", "command")
    yield from _gain("lead", "moved", "feedforward", constants=f"{{ times = {LEAD} }}")
    yield from _block("answer", "sum", "firm", "stay", "-calm", "lead")
    yield from _block("mixed", "gain", "answer", roles='gain = "mixer.{axis}.share"')
    yield from _block("drive", "limit", "mixed")
    yield from _STICK


def _known(firmware: Firmware, name: str) -> list[int]:
    """The choices whose filter is declared."""
    choices = firmware.by_name[name].choices
    return [int(value) for value, label in choices.items() if label in (*_FILTERS, "none")]


def _filters(firmware: Firmware, name: str, role: str, source: str, made: str) -> Iterator[str]:
    """One block for each kind of filter, in a row: all but the one that is chosen let everything pass."""
    for value, label in firmware.by_name[name].choices.items():
        if label not in _FILTERS:
            continue
        kind, constants = _FILTERS[label]
        yield from _block(
            f"{made} {label}",
            kind,
            source,
            roles=f'cutoff = "{role}.cutoff"',
            constants=constants,
            when=f'"{role}.kind" = [{value}]',
            unless=f'"{role}.cutoff" = [0]',
        )
        source = f"{made} {label}"
    yield from _block(made, "sum", source)


def _gain(name: str, source: str, term: str, constants: str = "") -> Iterator[str]:
    roles = f'gain = "rate_loop.{{axis}}.{term}_gain"'
    yield from _block(name, "gain", source, roles=roles, constants=constants)


def _block(
    name: str,
    kind: str,
    *inputs: str,
    roles: str = "",
    constants: str = "",
    when: str = "",
    unless: str = "",
    axes: str = "",
) -> Iterator[str]:
    yield ""
    yield "[[block]]"
    yield f'name = "{name}"'
    yield f'kind = "{kind}"'
    taken = ", ".join(f'"{one}"' for one in inputs)
    yield f"inputs = [{taken}]"
    for word, text in (("roles", roles), ("when", when), ("unless", unless)):
        if text:
            yield f"{word} = {{ {text} }}"
    if constants:
        yield f"constants = {constants}"
    if axes:
        yield f"axes = [{axes}]"
