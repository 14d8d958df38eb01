"""Work that takes longer than a page may: it goes on while the page is left and returned to."""

from __future__ import annotations

import logging
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.errors import AsflownError

if TYPE_CHECKING:
    from asflown.faces.web.page import Page

log = logging.getLogger(__name__)

#: Told what is done next.
Progress = Callable[[str], None]
#: Does the work; the address to go to then, or the page it came to.
Doing = Callable[[Progress], "str | Page"]
#: Finished work that is remembered at most.
MOST = 200


@dataclass
class Job:
    """One piece of work.

    Attributes
    ----------
    steps
        What was begun, in order; the last one goes on while nothing is finished.
    address, page
        Where it led, or what it came to, once it is done.
    """

    id: str
    title: str
    aircraft: str
    began: float = field(default_factory=time.monotonic)
    steps: list[str] = field(default_factory=list)
    address: str = ""
    page: Page | None = None
    error: AsflownError | None = None
    is_broken: bool = False
    ended: float | None = None

    def tell(self, text: str) -> None:
        """Say what goes on; the same step further on takes the place of what was said of it."""
        if self.steps and self.steps[-1].partition(":")[0] == text.partition(":")[0]:
            self.steps[-1] = text
        else:
            self.steps.append(text)

    @property
    def is_done(self) -> bool:
        """Whether it ended, well or not."""
        return self.ended is not None

    @property
    def seconds(self) -> float:
        """How long it took, or has taken so far."""
        return (time.monotonic() if self.ended is None else self.ended) - self.began


class Jobs:
    """The work of this server; one piece at a time, the next ones wait."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()
        self._turn = threading.Lock()

    def start(self, title: str, aircraft: str, doing: Doing) -> Job:
        """Begin a piece of work in a thread of its own."""
        job = Job(secrets.token_urlsafe(9), title, aircraft)
        with self._lock:
            ended = [one for one in self._jobs.values() if one.is_done]
            for old in ended[: max(0, len(ended) - MOST)]:
                del self._jobs[old.id]
            self._jobs[job.id] = job
        threading.Thread(target=self._run, args=(job, doing), daemon=True, name=job.id).start()
        return job

    def find(self, id: str) -> Job | None:
        """A piece of work by its identifier."""
        return self._jobs.get(id)

    def going_on(self) -> tuple[Job, ...]:
        """What is not done yet, oldest first."""
        return tuple(job for job in tuple(self._jobs.values()) if not job.is_done)

    def _run(self, job: Job, doing: Doing) -> None:
        try:
            with self._turn:
                came_to = doing(job.tell)
            if isinstance(came_to, str):
                job.address = came_to
            else:
                job.page = came_to
        except AsflownError as error:
            job.error = error
        except Exception:
            log.exception("%s", job.title)
            job.is_broken = True
        finally:
            job.ended = time.monotonic()


#: Of the server that runs in this process.
JOBS = Jobs()
