"""Rings in a directed graph: groups of nodes that each come before the other."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import TypeVar

Node = TypeVar("Node", bound=Hashable)


def rings(after: Mapping[Node, Sequence[Node]]) -> tuple[tuple[Node, ...], ...]:
    """The strongly connected groups of more than one node.

    Parameters
    ----------
    after
        For each node, the nodes it points to; every node is a key.

    Returns
    -------
    tuple of tuple
        The nodes of each ring. Linear in nodes and arrows.

    Notes
    -----
    Tarjan's algorithm without recursion (R. Tarjan, Depth-first search and linear graph algorithms,
    SIAM J. Comput. 1(2), 1972; from memory).
    """
    order: dict[Node, int] = {}
    low: dict[Node, int] = {}
    stack: list[Node] = []
    on_stack: set[Node] = set()
    found: list[tuple[Node, ...]] = []
    for root in after:
        if root in order:
            continue
        work: list[tuple[Node, Iterator[Node]]] = [(root, iter(after[root]))]
        _enter(root, order, low, stack, on_stack)
        while work:
            node, pending = work[-1]
            nxt = next(pending, None)
            if nxt is None:
                work.pop()
                if work:
                    parent = work[-1][0]
                    low[parent] = min(low[parent], low[node])
                if low[node] == order[node]:
                    _leave(node, stack, on_stack, found)
            elif nxt not in order:
                _enter(nxt, order, low, stack, on_stack)
                work.append((nxt, iter(after[nxt])))
            elif nxt in on_stack:
                low[node] = min(low[node], order[nxt])
    return tuple(found)


def _enter(
    node: Node, order: dict[Node, int], low: dict[Node, int], stack: list[Node], on_stack: set[Node]
) -> None:
    order[node] = low[node] = len(order)
    stack.append(node)
    on_stack.add(node)


def _leave(node: Node, stack: list[Node], on_stack: set[Node], found: list[tuple[Node, ...]]) -> None:
    group: list[Node] = []
    while True:
        member = stack.pop()
        on_stack.discard(member)
        group.append(member)
        if member == node:
            break
    if len(group) > 1:
        found.append(tuple(reversed(group)))
