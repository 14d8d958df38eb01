"""What a terminal answers to one line: taken, or refused; no word of any firmware is known."""

from __future__ import annotations

from collections import Counter

from asflown.core.link.words import TerminalWords
from asflown.core.record import Key
from asflown.core.reply_words import pattern, says_yes

#: How often an answer must have come before it counts as the usual one.
USUAL = 3


class Answers:
    """Learns the usual answer while lines are sent."""

    def __init__(self, words: TerminalWords) -> None:
        self._words = words
        self._seen: Counter[str] = Counter()

    def is_refusal(self, reply: str, key: Key | None, value: str | None) -> bool | None:
        """Whether a reply refuses a line; ``None`` while nobody can tell.

        Pinned texts decide. Without any, no answer and a plain yes take a line; any other answer is the usual
        one once it came three times, and a refusal where another one is the usual one.
        """
        reply = reply.strip()
        pinned = self._words.complains(reply)
        if pinned is not None:
            return pinned
        if not reply or says_yes(reply, key, value):
            self._seen[""] += 1
            return False
        made = pattern(reply, key, value)
        self._seen[made] += 1
        return self.judged(reply, key, value)

    def judged(self, reply: str, key: Key | None, value: str | None) -> bool | None:
        """The same for a reply that came before, by what is known now."""
        if self._seen[pattern(reply.strip(), key, value)] >= USUAL:
            return False
        return True if any(count >= USUAL for count in self._seen.values()) else None


def reply_to(shown: str, line: str, prompt: str | None) -> str:
    """What a terminal printed by itself after a line was typed: without the echo and the prompt.

    Parameters
    ----------
    shown
        Everything it printed until it was quiet.
    """
    rows = [row.strip() for row in shown.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    bare, typed = (prompt or "").strip(), line.strip()
    made = []
    for number, row in enumerate(rows):
        text = row.removeprefix(bare).strip() if bare and row.startswith(bare) else row
        is_echo = number == 0 and bool(text) and typed.startswith(text)
        if text and text != bare and not is_echo:
            made.append(text)
    return "\n".join(made)
