"""From a board and what is asked of it to the abstract problem, and back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product

from asflown.core.ports.asked import Asked, Way
from asflown.core.ports.board import FIXED_INVERTER, NO_INVERTER, Board, Input, Output, SerialPort
from asflown.core.ports.needs import BETTER, NEEDED, NO, SerialNeed
from asflown.core.ports.problem import Claim, Demand, Option, Problem
from asflown.core.ports.processor import Processor

#: What giving something up costs: the least harm and the least work first. Our own order, no source.
SLOW_WITHOUT_DMA, FAST_WITHOUT_DMA, WITHOUT_FUNCTION, MOVE, OTHER_WAY, LEAVE_OFF = 1, 3, 2, 4, 6, 20
#: bit/s; a serial line at or below it is slow: at most 11,520 bytes/s (8N1), an interrupt each 87 us.
SLOW_BAUD = 115_200

#: Levels of cost: DMA that would be better; then ports that could have done more, and the order of the board.
LEVELS = 2
FLASH = "flash"


@dataclass(frozen=True)
class Meant:
    """What an option means.

    Attributes
    ----------
    place
        Port, output, input or bus.
    requests
        DMA requests it makes.
    """

    way: Way | None
    place: str | None
    requests: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()
    without_dma: bool = False
    is_left_off: bool = False


@dataclass(frozen=True)
class Ease:
    """Something that may be given up, in words."""

    name: str
    cost: int
    kind: str


@dataclass
class Compiled:
    """The problem and what its options mean.

    Attributes
    ----------
    meant
        By demand and option.
    why_not
        By demand: place and why it cannot be there.
    """

    problem: Problem
    eases: Mapping[str, Ease]
    meant: Mapping[tuple[str, str], Meant]
    why_not: Mapping[str, tuple[tuple[str, str], ...]]


@dataclass(frozen=True)
class Flash:
    """Flash that functions take (bytes), and what is there for them; ``None``: not stated."""

    takes: Mapping[str, int | None]
    needs: Mapping[str, tuple[str, ...]]
    room: int | None = None

    def with_needed(self, function: str) -> tuple[str, ...]:
        """A function and all it needs, in the order of need."""
        found: dict[str, None] = {}

        def add(name: str) -> None:
            for needed in self.needs.get(name, ()):
                if needed not in found:
                    add(needed)
            found[name] = None

        add(function)
        return tuple(found)


def compiled(
    board: Board,
    processor: Processor,
    asked: Iterable[Asked],
    flash: Flash,
    functions: Iterable[str] = (),
) -> Compiled:
    """The problem of serving everything asked of a board.

    Parameters
    ----------
    functions
        Optional functions wanted besides those that devices need.

    Notes
    -----
    Without eases everything stays where it is wired. The eases of the result are all that could be given up;
    ``problem.easing`` allows them.
    """
    maker = _Maker(board, processor, flash)
    for used in board.used:
        for request in used.dma:
            maker.used(f"{used.name} ({request})", request)
    for thing in asked:
        maker.thing(thing)
    for name in functions:
        maker.function(name)
    capacities = {group: len(lanes) for group, lanes in processor.groups.items()}
    if flash.room is not None:
        capacities[FLASH] = flash.room
    return Compiled(
        Problem(tuple(maker.demands), capacities, {}, LEVELS),
        maker.eases,
        maker.meant,
        {name: tuple(found) for name, found in maker.why_not.items()},
    )


@dataclass
class _Maker:
    board: Board
    processor: Processor
    flash: Flash
    demands: list[Demand] = field(default_factory=list)
    eases: dict[str, Ease] = field(default_factory=dict)
    meant: dict[tuple[str, str], Meant] = field(default_factory=dict)
    why_not: dict[str, list[tuple[str, str]]] = field(default_factory=dict)

    def used(self, name: str, request: str) -> None:
        """A DMA request of a thing on the board."""
        options = []
        for number, option in enumerate(self._lanes((request,))):
            made = replace(option, name=f"{number}")
            options.append(made)
            self.meant[name, made.name] = Meant(None, None, (request,))
        self.demands.append(Demand(name, tuple(options)))

    def function(self, name: str) -> None:
        """An optional function that is wanted for itself."""
        demand = f"function {name}"
        without = self._ease(f"leave the function {name} out", WITHOUT_FUNCTION, "function")
        inside = Option("in", claims=self._claims(name))
        outside = Option("out", eases=frozenset({without}))
        self.meant[demand, "in"] = Meant(None, None, functions=self.flash.with_needed(name))
        self.meant[demand, "out"] = Meant(None, None, is_left_off=True)
        self.demands.append(Demand(demand, (inside, outside)))

    def thing(self, asked: Asked) -> None:
        """A device that needs a place."""
        options: list[Option] = []
        for number, way in enumerate(asked.ways):
            eases = frozenset[str]()
            if number:
                eases = frozenset({self._other_way(asked, way, number)})
            for option, meant in self._placed(asked, way):
                claims = option.claims | (self._claims(way.function) if way.function else frozenset())
                modes = dict(option.modes)
                if asked.kept_together:
                    modes[f"protocol of {asked.kept_together}"] = way.said
                made = replace(
                    option,
                    name=f"{number}.{len(options)}",
                    modes=modes,
                    claims=claims,
                    eases=option.eases | eases,
                )
                options.append(made)
                inside = self.flash.with_needed(way.function) if way.function else ()
                self.meant[asked.name, made.name] = replace(meant, functions=inside)
        if not asked.is_critical:
            off = self._ease(f"leave {asked.name} off", LEAVE_OFF, "leave off")
            options.append(Option("off", eases=frozenset({off})))
            self.meant[asked.name, "off"] = Meant(None, None, is_left_off=True)
        self.demands.append(Demand(asked.name, tuple(options)))

    def _other_way(self, asked: Asked, way: Way, number: int) -> str:
        about = asked.kept_together or asked.name
        return self._ease(f"talk with {about} in {way.said!r}", OTHER_WAY + number - 1, "protocol")

    def _ease(self, name: str, cost: int, kind: str) -> str:
        self.eases[name] = Ease(name, cost, kind)
        return name

    def _claims(self, function: str) -> frozenset[Claim]:
        inside = self.flash.with_needed(function)
        return frozenset(Claim(FLASH, name, self.flash.takes.get(name) or 0) for name in inside)

    # ---------------------------------------------------------------------------------- places

    def _placed(self, asked: Asked, way: Way) -> Iterator[tuple[Option, Meant]]:
        """Every place a thing could have, with the DMA streams it could have there."""
        order = 0
        for place, options, why in self._at_places(asked, way):
            if why is not None:
                noted = self.why_not.setdefault(asked.name, [])
                if (place, why) not in noted:
                    noted.append((place, why))
                continue
            moves = frozenset[str]()
            if asked.place is not None and place != asked.place:
                text = f"move {asked.name} from {asked.place} to {place}"
                moves = frozenset({self._ease(text, MOVE + asked.is_critical, "move")})
            for option, meant in options:
                order += 1
                costs = (option.costs[0], option.costs[1] * 100 + order)
                yield replace(option, eases=option.eases | moves, costs=costs), meant

    def _at_places(
        self, asked: Asked, way: Way
    ) -> Iterator[tuple[str, Iterable[tuple[Option, Meant]], str | None]]:
        needs = way.needs
        if needs.serial is not None:
            for port in self.board.serial:
                why = why_not_serial(port, needs.serial, self.processor, asked.volts)
                yield port.name, self._serial(asked, way, port, needs.serial) if why is None else (), why
        elif needs.outputs is not None:
            for output in self.board.outputs:
                yield output.name, list(self._output(asked, way, output)), None
        elif needs.input is not None:
            for entry in self.board.inputs:
                why = _why_not_input(entry, needs.input)
                option = Option("", modes={entry.pin: f"input {asked.name}"}, costs=(0, 0))
                yield entry.name, [(option, Meant(way, entry.name))] if why is None else (), why
        elif needs.bus:
            for bus in self.board.buses:
                pins = {bus.clock: f"{bus.unit}_SCL", bus.data: f"{bus.unit}_SDA"}
                option = Option("", modes=pins, costs=(0, 0))
                yield bus.name, [(option, Meant(way, bus.name))], None

    def _serial(
        self, asked: Asked, way: Way, port: SerialPort, need: SerialNeed
    ) -> Iterator[tuple[Option, Meant]]:
        lines = lines_used(port, need)
        requests = tuple(f"{port.unit}_{line.upper()}" for line in lines if _may_have_dma(need))
        requests = tuple(request for request in requests if self.processor.has_request(request))
        pins = {pin: f"{port.unit}_{line.upper()}" for line, pin in lines.items()}
        spare = 0 if len(lines) == sum(pin is not None for pin in (port.tx, port.rx)) else 1
        for modes in self._selected(pins):
            base = Option("", frozenset({port.unit}), modes, costs=(0, spare))
            if requests:
                for lanes in self._lanes(requests):
                    yield _joined(base, lanes), Meant(way, port.name, requests)
            if need.dma != NEEDED or not requests:
                missed = bool(requests) and need.dma == BETTER
                worse = (10 if asked.is_critical else 1) if missed else 0
                yield replace(base, costs=(worse, spare)), Meant(way, port.name, without_dma=missed)
            elif requests:
                slow = need.most_baud is not None and need.most_baud <= SLOW_BAUD
                cost = SLOW_WITHOUT_DMA if slow else FAST_WITHOUT_DMA
                bare = self._ease(f"no DMA for {asked.name}", cost, "DMA")
                yield (
                    replace(base, eases=frozenset({bare})),
                    Meant(way, port.name, without_dma=True),
                )

    def _output(self, asked: Asked, way: Way, output: Output) -> Iterator[tuple[Option, Meant]]:
        need = way.needs.outputs
        assert need is not None
        paced = need.pace in ("buzzer", "trigger")
        if paced:
            option = Option("", modes={output.pin: f"output {asked.name}"}, costs=(0, 0))
            yield option, Meant(way, output.name)
            return
        signals = self.processor.pins.get(output.pin, {})
        channels = [output.timer] if output.timer else [name for name in signals if "_CH" in name]
        for channel in channels:
            timer = channel.partition("_")[0]
            for modes in self._selected({output.pin: channel}):
                base = Option(
                    "",
                    frozenset({channel.removesuffix("N")}),
                    {**modes, f"{timer} pace": need.pace},
                    costs=(0, 0),
                )
                if need.dma == NO:
                    yield base, Meant(way, output.name)
                    continue
                # the outputs of a timer are served channel by channel, or all of them at its update
                for request, served in ((channel.removesuffix("N"), "channels"), (f"{timer}_UP", "update")):
                    if not self.processor.has_request(request):
                        continue
                    how = Option("", modes={f"{timer} served": served})
                    for lanes in self._lanes((request,)):
                        yield _joined(_joined(base, how), lanes), Meant(way, output.name, (request,))
                if need.dma == BETTER:
                    yield replace(base, costs=(1, 0)), Meant(way, output.name, without_dma=True)

    # ---------------------------------------------------------------------------------- selection

    def _lanes(self, requests: tuple[str, ...]) -> Iterator[Option]:
        """Every way to have DMA streams for some requests."""
        fixed = [
            [(request, lane) for lane in self.processor.lanes_of(request)]
            for request in requests
            if request in self.processor.routes
        ]
        claims = frozenset(
            Claim(self.processor.behind[request], request)
            for request in requests
            if request in self.processor.behind
        )
        for chosen in product(*fixed):
            if len({lane for _, lane in chosen}) < len(chosen):
                continue
            modes = {}
            for request, lane in chosen:
                modes[lane] = request
                modes[f"request {request}"] = lane
            yield Option("", modes=modes, claims=claims)

    def _selected(self, pins: Mapping[str, str]) -> Iterator[dict[str, str]]:
        """The modes of pins; where whole units are moved from pin to pin, one for each way they can lie."""
        groups: dict[str, list[set[str]]] = {}
        for pin, signal in pins.items():
            how = self.processor.pins.get(pin, {}).get(signal, "")
            if how.startswith("remap "):
                groups.setdefault(signal.partition("_")[0], []).append(set(how.split()[1:]))
        if not groups:
            yield dict(pins)
            return
        common = {unit: sorted(set.intersection(*found)) for unit, found in groups.items()}
        for chosen in product(*common.values()):
            remaps = {f"{unit} remap": number for unit, number in zip(common, chosen, strict=True)}
            yield {**pins, **remaps}


def _joined(one: Option, other: Option) -> Option:
    return replace(one, modes={**one.modes, **other.modes}, claims=one.claims | other.claims)


def _may_have_dma(need: SerialNeed) -> bool:
    return need.dma in (BETTER, NEEDED)


def lines_used(port: SerialPort, need: SerialNeed) -> dict[str, str]:
    """The lines of a port that a device uses: ``tx``, ``rx``, with their pins."""
    lines = {}
    if port.tx and (need.half_duplex or need.to_device is not False):
        lines["tx"] = port.tx
    if port.rx and not need.half_duplex and need.from_device is not False:
        lines["rx"] = port.rx
    return lines


def why_not_serial(
    port: SerialPort, need: SerialNeed, processor: Processor, volts: float | None
) -> str | None:
    """Why a device cannot be on a port, ``None`` where it can."""
    if (need.half_duplex or need.to_device) and not port.tx:
        return "its sending line is not led out"
    if need.from_device and not need.half_duplex and not port.rx:
        return "its receiving line is not led out"
    if need.inverted and port.inverter == NO_INVERTER and not processor.turns_levels:
        return f"levels are turned round, it has no inverter, and {processor.name} cannot turn them"
    if need.inverted is False and port.inverter == FIXED_INVERTER and not processor.turns_levels:
        return "its inverter always turns levels round"
    if volts is not None and port.most_volts is not None and volts > port.most_volts:
        return f"it bears {port.most_volts:g} V, the device gives {volts:g} V"
    return None


def _why_not_input(entry: Input, wanted: str) -> str | None:
    if entry.measures is not None and entry.measures != wanted:
        return f"it measures {entry.measures}"
    return None
