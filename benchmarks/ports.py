"""How long a port plan takes: a typical board, a fleet, and boards of growing size; HiGHS beside CP-SAT.

``python benchmarks/ports.py [--out FILE] [--svg FILE]``. CP-SAT (the reference of the run) is measured where
the package ortools is there; both solve the same problems and must agree on what is feasible.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from asflown.adapters.processors import load_processor
from asflown.core.aircraft import Aircraft, FittedDevice, Motors
from asflown.core.ports.asked import asked_of
from asflown.core.ports.board import Board, Output, SerialPort, Used
from asflown.core.ports.compile import Flash, compiled
from asflown.core.ports.plan import plan_ports
from asflown.core.ports.problem import Problem
from asflown.core.ports.processor import Processor
from asflown.core.ports.solve import is_feasible
from asflown.demo import releases, scenario
from asflown.demo.firmware.boards import DESCRIPTION

SERIAL_KINDS = ("receiver", "gnss", "telemetry", "camera link", "logger", "range finder", "optical flow")


def drawn_board(processor: Processor, dice: random.Random, ports: int, outputs: int) -> Board:
    """A board that leads out this many ports and outputs, no pin twice."""
    taken: set[str] = set()
    serial, out = [], []
    for unit in processor.serial:
        pins = [
            next((p for p in dice.sample(found, len(found)) if p not in taken), None)
            for found in (processor.pins_by_signal.get(f"{unit}_{line}", ()) for line in ("TX", "RX"))
        ]
        if len(serial) < ports and all(pins):
            taken |= set(pins)
            serial.append(SerialPort(f"port {unit}", unit, unit, *pins))
    channels = [
        (signal, pin)
        for signal, pins in processor.pins_by_signal.items()
        if "_CH" in signal and not signal.endswith("N")
        for pin in pins
    ]
    dice.shuffle(channels)
    used: set[str] = set()
    for signal, pin in channels:
        if len(out) < outputs and pin not in taken and signal not in used:
            taken.add(pin)
            used.add(signal)
            out.append(Output(f"output {len(out) + 1}", str(len(out) + 1), pin, signal))
    gyro = Used("gyro", dma=("SPI1_RX", "SPI1_TX"))
    return Board("drawn", processor.name, serial=tuple(serial), outputs=tuple(out), used=(gyro,))


def drawn_aircraft(board: Board, dice: random.Random, devices: int) -> Aircraft:
    """Motors on half of the outputs, lights and servos on others, serial devices on ports."""
    fitted = [
        FittedDevice("escs", "speed controller", port=f"outputs 1 to {max(1, len(board.outputs) // 2)}")
    ]
    ports = list(board.serial)
    dice.shuffle(ports)
    for number in range(min(devices - 3, len(ports))):
        kind = dice.choice(SERIAL_KINDS)
        fitted.append(
            FittedDevice(f"d{number}", kind, port=ports[number].name if dice.random() < 0.7 else None)
        )
    fitted += [FittedDevice("strip", "lights"), FittedDevice("tilt", "servo")]
    return Aircraft(
        "drawn", "Drawn", motors=Motors(count=max(1, len(board.outputs) // 2)), devices=tuple(fitted)
    )


def cp_feasible(problem: Problem) -> bool:
    """The same question by CP-SAT."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    alone: dict[str, list[Any]] = {}
    modes: dict[tuple[str, str], Any] = {}
    claims: dict[str, dict[tuple[str, int], Any]] = {}
    for demand in problem.demands:
        options = []
        for option in (one for one in demand.options if not one.eases):
            x = model.NewBoolVar("")
            options.append(x)
            for resource in option.takes:
                alone.setdefault(resource, []).append(x)
            for item in option.modes.items():
                model.AddImplication(x, modes.setdefault(item, model.NewBoolVar("")))
            for claim in option.claims:
                room = claims.setdefault(claim.capacity, {})
                model.AddImplication(x, room.setdefault((claim.item, claim.amount), model.NewBoolVar("")))
        model.AddExactlyOne(options) if options else model.AddBoolOr([])
    for found in alone.values():
        model.AddAtMostOne(found)
    for resource in {resource for resource, _ in modes}:
        model.AddAtMostOne([y for (name, _), y in modes.items() if name == resource])
    for capacity, items in claims.items():
        if capacity in problem.capacities:
            model.Add(sum(amount * y for (_, amount), y in items.items()) <= problem.capacities[capacity])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return bool(solver.Solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE))


def timed(work: Any, *given: Any) -> tuple[float, Any]:
    start = time.perf_counter()
    made = work(*given)
    return time.perf_counter() - start, made


def sizes(dice: random.Random, each: int) -> list[dict[str, Any]]:
    """Boards of growing size on three processors."""
    try:
        import ortools  # noqa: F401

        with_cp = True
    except ImportError:
        with_cp = False
    rows = []
    for name in ("STM32F405xG", "STM32F722xE", "STM32H743xI"):
        processor = load_processor(name)
        for ports, outputs, devices in ((2, 4, 5), (4, 6, 8), (6, 8, 12), (8, 12, 16)):
            whole, highs, cp, works = [], [], [], 0
            for _ in range(each):
                board = drawn_board(processor, dice, ports, outputs)
                asked = asked_of(drawn_aircraft(board, dice, devices), board, None, {})
                seconds, plan = timed(plan_ports, board, processor, asked.things, Flash({}, {}))
                whole.append(seconds)
                works += plan.works
                problem = compiled(board, processor, asked.things, Flash({}, {})).problem
                seconds, feasible = timed(is_feasible, problem)
                highs.append(seconds)
                assert feasible == plan.works
                if with_cp:
                    seconds, same = timed(cp_feasible, problem)
                    cp.append(seconds)
                    assert same == feasible
            row = {
                "processor": name,
                "ports": ports,
                "outputs": outputs,
                "devices": devices,
                "boards": each,
                "work as wired": works,
                "whole plan, median s": statistics.median(whole),
                "whole plan, most s": max(whole),
                "feasibility by HiGHS, median s": statistics.median(highs),
                "feasibility by CP-SAT, median s": statistics.median(cp) if cp else None,
            }
            rows.append(row)
            print(", ".join(f"{key} {_figure(value)}" for key, value in row.items()))
    return rows


def _figure(value: Any) -> str:
    if value is None:
        return "not measured"
    return f"{value:.4f}" if isinstance(value, float) else str(value)


def charted(rows: list[dict[str, Any]], file: Path) -> None:
    """Time of a whole plan against the size of the board."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams["svg.hashsalt"] = "asflown"
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(7, 4))
    for number, processor in enumerate(dict.fromkeys(row["processor"] for row in rows)):
        mine = [row for row in rows if row["processor"] == processor]
        at = [row["devices"] for row in mine]
        style = ("-", "--", ":")[number % 3]
        axes.plot(
            at, [row["whole plan, median s"] for row in mine], style, marker="o", label=f"{processor}, median"
        )
        axes.plot(
            at, [row["whole plan, most s"] for row in mine], style, marker="^", label=f"{processor}, longest"
        )
    axes.set_yscale("log")
    axes.set_xlabel("fitted devices")
    axes.set_ylabel("time of a plan, s")
    axes.set_title(
        "Port plans of drawn boards, with the reasons and ways out where they do not work", fontsize=9
    )
    axes.legend(fontsize=7)
    figure.tight_layout()
    figure.savefig(file, metadata={"Date": None})


def store_of(folder: Path, number: int) -> dict[str, str]:
    """A store with the demo's board, its new release and this many aircraft like plover."""
    environment = {**os.environ, "ASFLOWN_STORE": str(folder / "store"), "ASFLOWN_WHO": "bench"}
    release = folder / "marram-5.0"
    for path, data in releases.folders()["marram-5.0"].items():
        (release / path).parent.mkdir(parents=True, exist_ok=True)
        (release / path).write_bytes(data)
    (folder / "board.toml").write_text(DESCRIPTION)
    from asflown.app import aircraft as job
    from asflown.app.boards import add_board
    from asflown.app.releases import add_release
    from asflown.faces.wiring import processors, read_folder, workplace

    work = workplace(folder / "store", "bench")
    add_release(work, read_folder(str(release)), "marram-5.0")
    add_board(work, (folder / "board.toml").read_bytes(), "board.toml", processors())
    for n in range(number):
        text = scenario.PLOVER.text.replace('id = "plover"', f'id = "bird-{n:03}"').replace(
            "marram-4.1", "marram-5.0"
        )
        job.new_aircraft(work, job.from_file(text.encode(), "p.toml"))
    return environment


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--svg", type=Path, help="chart of time against size")
    parser.add_argument("--each", type=int, default=20)
    parser.add_argument("--fleet", type=int, default=200)
    words = parser.parse_args()
    dice = random.Random(7)
    result: dict[str, Any] = {"sizes": sizes(dice, words.each)}
    asflown = Path(sys.executable).with_name("asflown")
    with tempfile.TemporaryDirectory() as made:
        environment = store_of(Path(made), words.fleet)
        ask = {"env": environment, "check": False, "capture_output": True}
        one = [timed(lambda: subprocess.run([asflown, "ports", "bird-000"], **ask))[0] for _ in range(5)]
        result["typical, whole process, median s"] = statistics.median(one)
        print(f"typical board, whole process: {statistics.median(one):.2f} s (most {max(one):.2f})")
        fleet = timed(lambda: subprocess.run([asflown, "ports", "--every"], **ask))[0]
        result["fleet"] = {"aircraft": words.fleet, "s": fleet}
        print(f"fleet of {words.fleet}: {fleet:.1f} s")
    if words.svg:
        charted(result["sizes"], words.svg)
    if words.out:
        words.out.write_text(json.dumps(result, indent=2) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
