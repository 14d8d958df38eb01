"""Plain matchers to compare with: likeness of names alone, and a logistic model of a few facts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from rapidfuzz import fuzz, process
from scipy.optimize import linear_sum_assignment
from sklearn.feature_extraction.text import TfidfVectorizer
from sklearn.linear_model import LogisticRegression

from asflown.core.carry.matching.reading import plain_text
from asflown.core.carry.matching.words import raw_words
from asflown.core.catalog import ParameterDef
from matcher.families import Case
from matcher.judge import Says


def _sides(case: Case) -> tuple[list[ParameterDef], list[ParameterDef]]:
    before, after = {p.name for p in case.old}, {p.name for p in case.new}
    return [p for p in case.old if p.name not in after], [p for p in case.new if p.name not in before]


def _names(side: Sequence[ParameterDef]) -> list[str]:
    return [" ".join(raw_words(p.name)) for p in side]


def _likeness(old: Sequence[ParameterDef], new: Sequence[ParameterDef]) -> np.ndarray:
    table = process.cdist(_names(old), _names(new), scorer=fuzz.token_sort_ratio, dtype=np.float32)
    return table / 100


def _answers(
    old: Sequence[ParameterDef], new: Sequence[ParameterDef], table: np.ndarray, least: float
) -> Iterable[tuple[str, str, float, bool]]:
    """Best candidates after assignment; claims from ``least`` on."""
    if not table.size:
        return
    rows, columns = linear_sum_assignment(table, maximize=True)
    assigned = dict(zip(rows.tolist(), columns.tolist(), strict=True))
    for i, p in enumerate(old):
        j = assigned.get(i, int(table[i].argmax()))
        yield p.name, new[j].name, float(table[i, j]), i in assigned and table[i, j] >= least


def by_name(case: Case) -> Iterable[tuple[str, str, float, bool]]:
    """Likeness of names alone (sorted words), one-to-one, claimed from 0.75 on."""
    old, new = _sides(case)
    yield from _answers(old, new, _likeness(old, new), 0.75)


class Logistic:
    """Name, description, type, factory value and range in a logistic model, with assignment."""

    def __init__(self, cases: Sequence[Case]) -> None:
        rows, labels = [], []
        for case in cases:
            old, new = _sides(case)
            table = self._features(old, new)
            for i, p in enumerate(old):
                if p.name in case.truth:
                    keep = np.argsort(-table[i, :, 0])[:30]
                    rows.append(table[i, keep])
                    labels += [case.truth[p.name] == new[j].name for j in keep]
        self._model = LogisticRegression(C=1.0, max_iter=1000).fit(np.concatenate(rows), labels)

    @staticmethod
    def _features(old: Sequence[ParameterDef], new: Sequence[ParameterDef]) -> np.ndarray:
        made = np.zeros((len(old), len(new), 6), np.float32)
        if not made.size:
            return made
        made[:, :, 0] = _likeness(old, new)
        texts = [p.description or "" for p in (*old, *new)]
        words = TfidfVectorizer(token_pattern=r"\w+").fit_transform([f"{t} void" for t in texts])
        made[:, :, 1] = (words[: len(old)] @ words[len(old) :].T).toarray()
        facts = (
            lambda p: p.type,
            lambda p: plain_text(p.default),
            lambda p: (p.minimum, p.maximum) if p.minimum is not None or p.maximum is not None else None,
        )
        for k, fact in enumerate(facts, 2):
            a, b = [fact(p) for p in old], [fact(p) for p in new]
            for i, x in enumerate(a):
                made[i, :, k] = [0 if x is None or y is None else 1 if x == y else -1 for y in b]
        made[:, :, 5] = made[:, :, 0] * made[:, :, 1]
        return made

    def says(self, least: float) -> Says:
        """Answers, claimed from ``least`` on."""

        def says(case: Case) -> Iterable[tuple[str, str, float, bool]]:
            old, new = _sides(case)
            table = self._features(old, new)
            if not table.size:
                return
            sure = self._model.predict_proba(table.reshape(-1, 6))[:, 1].reshape(table.shape[:2])
            yield from _answers(old, new, sure, least)

        return says
