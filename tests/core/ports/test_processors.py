"""The processor tables against the manuals, and the ten verdicts over the request map of RM0090."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest

from asflown.adapters.processors import load_processor, processor_names
from asflown.core.image.processors import PROCESSORS
from asflown.core.ports.processor import lane_said, split


def section_13(shared: Path) -> dict[tuple[str, int, int], set[str]]:
    """Cells (controller, stream, channel) of RM0090 tables 42 and 43, as the project's check values have them."""
    text = (shared / "check-values.md").read_text("utf-8")
    part = text[text.index("## 13.") : text.index("## 14.")]
    cells: dict[tuple[str, int, int], set[str]] = {}
    controller = ""
    for line in part.splitlines():
        if re.fullmatch(r"DMA\d", line.strip()):
            controller = line.strip()
        row = re.match(r"\| (\d) \|(.*)\|$", line)
        if not row or not controller or "requests together" in line:
            continue
        for stream, cell in enumerate(row[2].split("|")):
            names = {name for word in cell.split() if "*" not in word for name in _spread(word.strip())}
            cells[controller, stream, int(row[1])] = names - {"-"}
    return cells


def _spread(word: str) -> list[str]:
    """TIM8_CH1/2/3 is three requests."""
    match = re.fullmatch(r"(\w+_CH)(\d)((?:/\d)+)", word)
    if match is None:
        return [word]
    return [match[1] + number for number in (match[2] + match[3]).split("/")]


#: Where the package names a cell differently than the manual.
ALIASES = {"SDIO_RX": "SDIO", "SDIO_TX": "SDIO"}
#: Only the STM32F415 and 417 have them (from memory, as the check values say).
ONLY_OTHERS = {"CRYP_IN", "CRYP_OUT", "HASH_IN"}


def test_the_request_map_is_rm0090s_cell_by_cell(shared):
    cells = section_13(shared)
    assert len(cells) == 2 * 8 * 8
    processor = load_processor("STM32F407xG")
    assert processor is not None
    mine: dict[tuple[str, int, int], set[str]] = {key: set() for key in cells}
    for request, routes in processor.routes.items():
        for route in routes:
            controller, stream = route.lane.split(" S")
            channel = int(route.select.removeprefix("channel "))
            mine[controller, int(stream), channel].add(ALIASES.get(request, request))
    wrong = {
        key: (mine[key], cells[key] - ONLY_OTHERS) for key in cells if mine[key] != cells[key] - ONLY_OTHERS
    }
    assert wrong == {}


def solutions(requests: list[str]) -> int:
    """Assignments of streams to requests, no stream twice."""
    processor = load_processor("STM32F407xG")
    lanes = [[route.lane for route in processor.routes[request]] for request in requests]
    return sum(len(set(chosen)) == len(chosen) for chosen in product(*lanes))


def rows_of_verdicts(shared: Path) -> list[tuple[str, list[str], int]]:
    text = (shared / "check-values.md").read_text("utf-8")
    part = text[text.index("| requests together") : text.index("## 14.")]
    found = []
    for line in part.splitlines()[2:]:
        row = re.match(r"\| (.+?) \| \**(\d+)\** \|", line)
        if row:
            requests = []
            for word in re.split(r", | \+ ", row[1]):
                span = re.fullmatch(r"(\w+_CH)(\d)\.\.(\d)", word)
                pair = re.fullmatch(r"(\w+)_RX/TX", word)
                if span:
                    requests += [f"{span[1]}{n}" for n in range(int(span[2]), int(span[3]) + 1)]
                elif pair:
                    requests += [f"{pair[1]}_RX", f"{pair[1]}_TX"]
                else:
                    requests.append(word)
            found.append((row[1], requests, int(row[2])))
    return found


def test_the_ten_verdicts(shared):
    from asflown.core.ports.board import Board, Used
    from asflown.core.ports.compile import Flash
    from asflown.core.ports.plan import plan_ports

    rows = rows_of_verdicts(shared)
    assert len(rows) == 10
    processor = load_processor("STM32F407xG")
    for words, requests, count in rows:
        assert solutions(requests) == count, words
        board = Board("b", processor.name, used=tuple(Used(name, dma=(name,)) for name in requests))
        plan = plan_ports(board, processor, (), Flash({}, {}))
        assert plan.works == (count > 0), words
        if plan.works:
            lanes = [lane for item in plan.placed for _, lane in item.lanes]
            assert len(set(lanes)) == len(requests), words
            for item in plan.placed:
                [(request, lane)] = item.lanes
                assert lane in {route.lane for route in processor.routes[request]}


def test_four_of_which_every_pair_goes_together(shared):
    """The case a pairwise checker passes wrongly: the conflict is all four, and any one less frees it."""
    from asflown.core.ports.board import Board, Used
    from asflown.core.ports.compile import Flash
    from asflown.core.ports.plan import plan_ports

    four = ["TIM1_UP", "TIM8_UP", "USART1_RX", "USART6_RX"]
    processor = load_processor("STM32F407xG")
    board = Board("b", processor.name, used=tuple(Used(name, dma=(name,)) for name in four))
    plan = plan_ports(board, processor, (), Flash({}, {}))
    assert not plan.works
    assert {name.partition(" ")[0] for name in plan.reason.names} == set(four)
    assert plan.reason.short_of == ("DMA",)
    for one in four:
        rest = tuple(Used(name, dma=(name,)) for name in four if name != one)
        assert plan_ports(Board("b", processor.name, used=rest), processor, (), Flash({}, {})).works


#: Rows of other manuals, from memory of RM0008 rev 21 tables 78 and 79 (fixed channels): request, channel.
F103 = [
    ("USART1_TX", "DMA1 C4"),
    ("USART1_RX", "DMA1 C5"),
    ("USART2_RX", "DMA1 C6"),
    ("USART2_TX", "DMA1 C7"),
    ("USART3_TX", "DMA1 C2"),
    ("USART3_RX", "DMA1 C3"),
    ("SPI1_RX", "DMA1 C2"),
    ("SPI1_TX", "DMA1 C3"),
    ("TIM1_UP", "DMA1 C5"),
    ("TIM4_UP", "DMA1 C7"),
    ("TIM2_UP", "DMA1 C2"),
    ("ADC1", "DMA1 C1"),
    ("UART4_RX", "DMA2 C3"),
    ("UART4_TX", "DMA2 C5"),
]


@pytest.mark.parametrize(("request_", "lane"), F103)
def test_fixed_channels_of_the_f103(request_, lane):
    processor = load_processor("STM32F103xC")
    assert [route.lane for route in processor.routes[request_]] == [lane]
    assert processor.lane_word == "channel"


#: From memory of RM0433 rev 8 table 121 (request lines of DMAMUX1): any of 16 streams can have each.
H743 = [
    "TIM1_CH1",
    "TIM1_UP",
    "TIM4_UP",
    "USART1_RX",
    "USART1_TX",
    "USART6_RX",
    "UART7_TX",
    "SPI1_RX",
    "ADC1",
]


def test_a_multiplexer_lets_any_stream_serve_any_request():
    processor = load_processor("STM32H743xI")
    assert len(processor.groups["DMA"]) == 16
    assert len(processor.groups["BDMA"]) == 8
    for request in H743:
        assert processor.behind[request] == "DMA"
    # low-power unit 1 and I2C 4 lie behind the other one (RM0433 table 124, from memory)
    assert processor.behind["LPUART1_RX"] == processor.behind["I2C4_RX"] == "BDMA"
    # the four that do not go together on the F407 do here
    four = ["TIM1_UP", "TIM8_UP", "USART1_RX", "USART6_RX"]
    assert {processor.behind[name] for name in four} == {"DMA"}


@pytest.mark.parametrize(
    ("part", "pin", "signal", "how"),
    [
        # STM32F405/407 data sheet DS8626 table 9, alternate functions (from memory)
        ("STM32F407xG", "PA9", "USART1_TX", "AF7"),
        ("STM32F407xG", "PA2", "USART2_TX", "AF7"),
        ("STM32F407xG", "PC6", "USART6_TX", "AF8"),
        ("STM32F407xG", "PB0", "TIM3_CH3", "AF2"),
        ("STM32F407xG", "PB6", "I2C1_SCL", "AF4"),
        # STM32H743 data sheet DS12110 (from memory)
        ("STM32H743xI", "PE7", "UART7_RX", "AF7"),
        ("STM32H743xI", "PB6", "TIM4_CH1", "AF2"),
        # STM32F103 data sheet DS5792 and RM0008 section 9.3 (from memory): moved as a whole
        ("STM32F103xC", "PB10", "USART3_TX", "remap 0"),
        ("STM32F103xC", "PB6", "USART1_TX", "remap 1"),
    ],
)
def test_pins_against_data_sheets(part, pin, signal, how):
    assert load_processor(part).pins[pin][signal] == how


def test_flash_is_that_of_the_sector_tables():
    """Two tables made from different sources (reference manuals, modm-devices) agree on the size."""
    both = [name for name in PROCESSORS if name in processor_names()]
    assert len(both) >= 6
    for name in both:
        assert load_processor(name).flash == PROCESSORS[name].size


def test_tables_are_what_the_script_makes_of_the_package(root):
    import importlib.util

    path = root / "tools" / "processors" / "reduce.py"
    spec = importlib.util.spec_from_file_location("reduce_processors", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("STM32F303xC", "STM32H743xI"):
        text = module.text_of(module.reduced(name, module.WANTED[name]))
        assert text == (module.OUT / f"{name}.json").read_text()
    assert set(processor_names()) == set(module.WANTED)


def test_part_names():
    assert split("STM32F405RGT6") == ("STM32F405xG", "R")
    assert split("stm32f405rg") == ("STM32F405xG", "R")
    assert split("STM32F407xG") == ("STM32F407xG", None)
    assert load_processor("stm32h743vi").name == "STM32H743xI"
    assert load_processor("Z80") is None
    assert lane_said("DMA2 S5") == "stream 5 of controller 2"
    assert lane_said("BDMA C3") == "channel 3 of the basic controller"
