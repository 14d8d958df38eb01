"""A page for work that goes on: what is done, what is next, and where it led."""

from __future__ import annotations

from asflown.errors import InputError, UsageError
from asflown.faces.web import errors
from asflown.faces.web.jobs import JOBS, Job
from asflown.faces.web.page import Asked, Go, Page
from asflown.faces.web.pages.beside import others


def look(asked: Asked) -> Page | Go:
    """How far a piece of work is; the page asks anew until it is done."""
    from asflown.app.views.sheet import Sheet, Table

    job = JOBS.find(asked["work"])
    if job is None:
        raise UsageError(
            "there is no such work, or the server was started anew since",
            next_step="begin it again from the aircraft's page",
        )
    if isinstance(job.error, InputError | UsageError):
        return _not_done(job, job.error)
    if job.error is not None:
        raise job.error
    if job.is_broken:
        raise UsageError(
            "a fault of asflown ended it; nothing was kept",
            next_step="see what the terminal of the server says, and report it",
        )
    if job.page is not None:
        return job.page
    if job.is_done:
        return Go(job.address, f"{job.title}: done.")
    steps = tuple(job.steps)
    rows = tuple((step, "done" if number < len(steps) else "goes on") for number, step in enumerate(steps, 1))
    sheet = Sheet(
        "Work goes on",
        (("aircraft", job.aircraft), ("for", f"{job.seconds:.0f} s")),
        f"{job.title}. You can leave this page and come back.",
        tables=(Table(("step", "state"), rows, empty="it waits for its turn"),),
    )
    return Page(
        sheet,
        lambda: {"title": job.title, "steps": list(steps), "done": False},
        refresh=True,
        others=others(job.aircraft) if job.aircraft else (),
        whose=job.aircraft,
    )


def _not_done(job: Job, error: InputError | UsageError) -> Page:
    """What was brought could not be used: the work ended, nothing was kept."""
    said = errors.shown(error)
    sheet = errors.sheet(said.says, (*said.faults, *said.steps), title=f"{job.title}: not done")
    return Page(
        sheet,
        lambda: {"title": job.title, "error": {"what": error.what, "where": error.where}},
        others=others(job.aircraft) if job.aircraft else (),
        whose=job.aircraft,
        status=409,
    )
