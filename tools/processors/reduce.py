"""Make the processor tables of `asflown.data.processors` from the package modm-devices (MPL-2.0).

Kept of each processor: size of flash, pins of each package with the signals they can carry and how each is
selected, timers, serial units, and which DMA stream or channel can serve which request.

Run: .venv/bin/python tools/processors/reduce.py
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

OUT = Path(__file__).resolve().parents[2] / "src" / "asflown" / "data" / "processors"

#: Processor (size letter last, package left out) and the package's file that holds it.
WANTED = {
    "STM32F103xC": "stm32f1-01_03-c_d_e",
    "STM32F303xC": "stm32f3-03-b_c_d_e",
    "STM32F405xG": "stm32f4-05_07_15_17",
    "STM32F407xG": "stm32f4-05_07_15_17",
    "STM32F411xE": "stm32f4-01_11",
    "STM32F446xE": "stm32f4-46",
    "STM32F722xE": "stm32f7-22_23_30_32_33",
    "STM32F745xG": "stm32f7-45_46_50_56",
    "STM32F765xI": "stm32f7-65",
    "STM32G431xB": "stm32g4-31_41",
    "STM32G474xE": "stm32g4-74_84",
    "STM32H723xG": "stm32h7-23_30_33",
    "STM32H743xI": "stm32h7-42_43_50_53",
}

#: Signals kept of a pin: what can be wired outside of a board, and what boards wire inside.
_KEPT = re.compile(
    r"(TIM\d+_CH\d+N?|(LP)?US?ART\d+_(TX|RX)|SPI\d+_(SCK|MISO|MOSI)|I2C\d+_(SCL|SDA)|ADC\d*_INP?\d+|CAN\d*_(RX|TX)"
    r"|FDCAN\d+_(RX|TX)|USB_OTG_[FH]S_D[PM]|USB_D[PM]|SDIO_\w+|SDMMC\d_\w+)"
)

#: The package's name of a request to the reference manuals'.
_ALIASES = {"DAC_DAC1": "DAC1", "DAC_DAC2": "DAC2"}


def name_of(signal: Mapping[str, str]) -> str:
    """A signal as the manuals write it: ``TIM4_CH1``, ``ADC1``."""
    name = signal["driver"].upper() + signal.get("instance", "")
    if "name" in signal:
        name += f"_{signal['name'].upper()}"
    return _ALIASES.get(name, name)


def one(found: Iterable[dict[str, Any]], name: str) -> dict[str, Any]:
    """The only driver of a name."""
    [driver] = [item for item in found if item["name"] == name]
    return driver


def devices(file: str, processor: str) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Package letter and drivers of every device of a processor in a file of the package."""
    import modm_devices
    from modm_devices.parser import DeviceParser

    path = Path(modm_devices.__file__).parent / "resources" / "devices" / "stm32" / f"{file}.xml"
    line, size = processor.split("x")
    seen = set()
    for device in DeviceParser().parse(str(path)).get_devices():
        found = device.identifier
        if f"{found['platform']}{found['family']}{found['name']}".upper() != line:
            continue
        if found["size"].upper() != size or found["pin"] in seen:
            continue
        seen.add(found["pin"])
        yield found["pin"].upper(), device.properties["driver"]


def remaps(gpio: Mapping[str, Any]) -> dict[str, dict[str, list[str]]]:
    """Of the older family, without alternate function numbers: pin, signal, and the remaps for it."""
    made: dict[str, dict[str, list[str]]] = {}
    for remap in gpio.get("remap", ()):
        for group in remap["group"]:
            for signal in group["signal"]:
                pin = f"P{signal['port'].upper()}{signal['pin']}"
                name = name_of({**remap, **signal, "driver": remap["driver"]})
                made.setdefault(pin, {}).setdefault(name, []).append(group["id"])
    return made


def pins_of(drivers: list[dict[str, Any]]) -> dict[str, dict[str, str]]:
    """Pin to signal to how it is selected: ``AF7``, ``remap 1``, or empty where nothing selects it."""
    gpio = one(drivers, "gpio")
    moved = remaps(gpio)
    pins: dict[str, dict[str, str]] = {}
    for item in gpio["gpio"]:
        pin = f"P{item['port'].upper()}{item['pin']}"
        signals = pins.setdefault(pin, {})
        for signal in item.get("signal", ()):
            name = name_of(signal)
            if not _KEPT.fullmatch(name):
                continue
            how = f"AF{signal['af']}" if "af" in signal else ""
            signals[name] = how
        for name, groups in moved.get(pin, {}).items():
            if _KEPT.fullmatch(name):
                signals[name] = "remap " + " ".join(groups)
    return pins


def lane(controller: str, position: str, kind: str) -> str:
    """Name of a stream or channel, as in ``DMA2 S5``."""
    letter = "S" if "stream" in kind else "C"
    return f"DMA{controller} {letter}{position}"


def routes_of(drivers: list[dict[str, Any]]) -> dict[str, Any]:
    """Which stream or channel serves which request."""
    dma = one(drivers, "dma")
    kind = dma["type"].removeprefix("stm32-")
    requests: dict[str, dict[str, str]] = {}
    if kind.startswith("mux"):
        lanes = {"DMA": _lanes_behind(dma, kind)}
        _ask(requests, dma, "DMA")
        for other in (item for item in drivers if item["name"] == "bdma"):
            if "mux-channels" in other:
                [channels] = other["mux-channels"]
                lanes["BDMA"] = [f"BDMA C{item['position']}" for item in channels["mux-channel"]]
                _ask(requests, other, "BDMA")
        return {"kind": "multiplexer", "groups": lanes, "requests": requests}
    rooms = dma.get("streams") or dma.get("channels")
    for controller in rooms:
        number = controller.get("instance", "1")
        for item in controller.get("stream") or controller["channel"]:
            name = lane(number, item["position"], kind)
            for inner in item.get("channel", [item]):
                chosen = f"channel {inner['position']}" if "channel" in item else ""
                for signal in inner.get("signal", ()):
                    remap = " ".join(f"remap {one['id']}" for one in signal.get("remap", ()))
                    found = requests.setdefault(name_of(signal), {})
                    # one stream may serve a request by two of its channels
                    found[name] = ", ".join(filter(None, (found.get(name), chosen or remap)))
    return {"kind": "streams" if "stream" in kind else "channels", "requests": requests}


def _lanes_behind(dma: Mapping[str, Any], kind: str) -> list[str]:
    [channels] = dma["mux-channels"]
    return [lane(item["dma-instance"], item["dma-channel"], kind) for item in channels["mux-channel"]]


def _ask(requests: dict[str, dict[str, str]], driver: Mapping[str, Any], group: str) -> None:
    [listed] = driver["requests"]
    for request in listed["request"]:
        for signal in request["signal"]:
            name = name_of(signal)
            if "generator" not in name.casefold():
                requests.setdefault(name, {})[group] = f"request {request['position']}"


def timers_of(drivers: list[dict[str, Any]]) -> dict[str, str]:
    """Timer to its kind: basic, general-purpose, advanced."""
    return {
        f"TIM{number}": item["type"].removeprefix("stm32-")
        for item in drivers
        if item["name"] == "tim"
        for number in item["instance"]
    }


def serial_of(drivers: list[dict[str, Any]]) -> list[str]:
    """The serial units."""
    return [
        f"{item['name'].upper()}{number}"
        for item in drivers
        if item["name"] in ("usart", "uart", "lpuart")
        for number in item["instance"]
    ]


def reduced(processor: str, file: str) -> dict[str, Any]:
    """One processor's table."""
    pins: dict[str, dict[str, str]] = {}
    packages: dict[str, list[str]] = {}
    drivers: list[dict[str, Any]] = []
    for package, found in devices(file, processor):
        drivers = found
        of_package = pins_of(found)
        packages[package] = ranges(of_package)
        for pin, signals in of_package.items():
            pins.setdefault(pin, {}).update(signals)
    memory = one(drivers, "core")["memory"]
    flash = sum(
        int(item["size"])
        for item in memory
        if re.fullmatch(r"flash\d?", item["name"]) and item["access"] == "rx"
    )
    return {
        "processor": processor,
        "source": f"modm-devices {version('modm-devices')}, {file}.xml",
        "licence": "MPL-2.0",
        "flash": flash,
        "packages": dict(sorted(packages.items())),
        "timers": dict(sorted(timers_of(drivers).items(), key=lambda item: natural(item[0]))),
        "serial": sorted(serial_of(drivers), key=natural),
        "dma": in_order(routes_of(drivers)),
        "pins": {
            pin: dict(sorted(pins[pin].items(), key=lambda item: natural(item[0])))
            for pin in sorted(pins, key=natural)
        },
    }


def in_order(routes: dict[str, Any]) -> dict[str, Any]:
    """The requests in the order of their names."""
    asked = routes["requests"]
    return {**routes, "requests": {name: asked[name] for name in sorted(asked, key=natural)}}


def natural(name: str) -> list[tuple[int, str]]:
    """PA2 before PA10."""
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", name) if part]


def ranges(pins: Iterable[str]) -> list[str]:
    """PA0, PA1, PA2 as ``PA0-2``."""
    made: list[str] = []
    by_port: dict[str, list[int]] = {}
    for pin in pins:
        by_port.setdefault(pin[:2], []).append(int(pin[2:]))
    for port, numbers in sorted(by_port.items()):
        numbers.sort()
        first = last = numbers[0]
        for number in [*numbers[1:], 10_000]:
            if number == last + 1:
                last = number
                continue
            made.append(f"{port}{first}" if first == last else f"{port}{first}-{last}")
            first = last = number
    return made


def text_of(table: Mapping[str, Any]) -> str:
    """JSON, a pin or a request to a line."""

    def laid(value: Any, depth: int) -> str:
        if isinstance(value, dict) and depth < 3 and value and depth != 2:
            inner = ",\n".join(
                f"{'  ' * (depth + 1)}{json.dumps(key)}: {laid(item, depth + 1)}"
                for key, item in value.items()
            )
            return "{\n" + inner + "\n" + "  " * depth + "}"
        if isinstance(value, dict) and depth == 2 and any(isinstance(item, dict) for item in value.values()):
            inner = ",\n".join(
                f"{'  ' * (depth + 1)}{json.dumps(key)}: {json.dumps(item)}" for key, item in value.items()
            )
            return "{\n" + inner + "\n" + "  " * depth + "}"
        return json.dumps(value)

    return laid(table, 0) + "\n"


def main() -> int:
    """Write the tables; name those that changed."""
    OUT.mkdir(parents=True, exist_ok=True)
    for processor, file in WANTED.items():
        text = text_of(reduced(processor, file))
        path = OUT / f"{processor}.json"
        if not path.exists() or path.read_text() != text:
            path.write_text(text)
            print(f"{path.name}: {len(text)} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
