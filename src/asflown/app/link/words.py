"""The words of a firmware's terminal: begun, kept, found again."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app import kept
from asflown.app.workplace import Workplace
from asflown.core.link.words import Guard, TerminalWords
from asflown.errors import Fault, InputError, NeedsPerson
from asflown.formats import documents

KIND = "terminal"

BEGIN = """\
# The words of the text terminal of one firmware. None is built in: look them up in its manual.
firmware = "{firmware}"

listing = ""          # the word or words that print every setting
# store = ""          # that keep what is in use, so that it stays after a restart
# restart = ""        # that restart the board
# enter = ""          # to type once before anything else, where the terminal has to be entered

# prompt = ""         # what it prints when it waits for a line (left out: found out)
# complaint = []      # texts that stand only in a refusal, e.g. ["unknown"] (left out: the unusual)
# never = []          # patterns of lines that must never be sent, e.g. ["^test "]

# line_end = "crlf"   # cr, lf or crlf
# quiet = 1.0         # seconds without a character after which an answer is whole
# restarts_in = 20    # seconds a restart may take
# speed = 115200      # bits a second of a serial line
"""


@dataclass(frozen=True)
class Added:
    """Words as they are kept now."""

    words: TerminalWords
    was_kept: bool


def add_words(work: Workplace, data: bytes, name: str) -> Added:
    """Keep the words of a firmware's terminal, with the bytes of their file.

    Raises
    ------
    InputError
        When the file cannot be read, or a pinned word is one the guard refuses.
    """
    from asflown.formats import terminal_toml

    words = terminal_toml.read(data, name)
    guard = Guard(words)
    faults = tuple(
        Fault(why, f"{name} {field}")
        for field, text in words.typed()
        if (why := guard.refuses(text)) is not None
    )
    if faults:
        raise InputError("these words are never sent", where=name, faults=faults)
    before = work.store.document(KIND, words.firmware)
    body = documents.dump(words)
    if before is not None and before.body == body:
        return Added(words, was_kept=False)
    with work.store.transaction() as tx:
        original = tx.keep(data, name=name, kind="terminal words")
        made = tx.put(KIND, words.firmware, body, expect=before.revision if before else 0)
        what = "brought in again" if before else "brought in"
        entry = {"id": words.firmware, "what": what, "sha256": made.sha256, "originals": [original.sha256]}
        tx.log(kept.RELEASES, KIND, entry)
    return Added(words, was_kept=True)


def all_words(work: Workplace) -> tuple[TerminalWords, ...]:
    """Every firmware's words."""
    return tuple(documents.load(each.body, TerminalWords) for each in work.store.documents(KIND))


def words_for(work: Workplace, release: str | None) -> TerminalWords:
    """The words of the firmware a release belongs to; the only ones there are where no release is known.

    Raises
    ------
    NeedsPerson
        When none are kept for it.
    """
    known = all_words(work)
    firmware = None
    if release is not None:
        found = kept.release_with_document(work.store, release)
        firmware = found[0].firmware if found else release.rpartition("-")[0]
    fitting = [one for one in known if firmware is None or one.firmware == firmware]
    if len(fitting) == 1:
        return fitting[0]
    name = firmware or "FIRMWARE"
    raise NeedsPerson(
        f"which words {firmware or 'its firmware'}'s terminal takes is not kept: none are built in",
        next_step=f"write them down once: asflown terminal new {name} > words.toml; then asflown terminal add"
        " words.toml",
    )
