"""What in a prediction a person must look at before the aircraft is written."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.behaviour.predict.result import Answer, Prediction, Stability

#: Margins below which a loop is thin, and a peak sensitivity above which it is: a step beyond the ends of
#: what textbooks recommend (30 deg, 6 dB, 2; Astrom & Murray, *Feedback Systems*, from memory).
LEAST_PHASE, LEAST_GAIN, MOST_PEAK = 25.0, 4.0, 2.5
#: By how much a margin that was thin before may be thinner after, deg and dB, and a peak be larger, ratio.
SLIGHTLY = (2.0, 0.5, 1.05)


@dataclass(frozen=True, slots=True)
class Concern:
    """Why an axis must be looked at.

    Attributes
    ----------
    says
        One sentence without its full stop.
    """

    axis: str
    stability: Stability
    says: str

    @property
    def is_unsafe(self) -> bool:
        """Whether it must not be flown."""
        return self.stability is not Stability.STABLE


def concern_of(made: Prediction) -> Concern | None:
    """The worst of what is predicted of an axis; ``None`` where nothing is unstable or newly thin."""
    held = made.after.stability
    if held is Stability.UNSTABLE:
        return Concern(made.axis, held, f"{made.axis} would be unstable: it would oscillate and grow")
    if held is Stability.UNSURE:
        return Concern(
            made.axis,
            held,
            f"{made.axis} is not sure to be stable: {made.after.unstable_share:.0%} of drawn loops are not",
        )
    thin = list(_thin(made.before, made.after))
    if not thin:
        return None
    return Concern(made.axis, held, f"{made.axis} would be close to oscillation: {', '.join(thin)}")


def _thin(before: Answer, after: Answer) -> list[str]:
    """Margins that are thin, and thinner than before."""
    made = []
    for name, least, slight, unit, digits in (
        ("phase_margin", LEAST_PHASE, SLIGHTLY[0], "deg", 0),
        ("gain_margin", LEAST_GAIN, SLIGHTLY[1], "dB", 1),
    ):
        now, was = after.figures[name].value, before.figures[name].value
        if now is not None and now < least and (was is None or now < was - slight):
            text = name.replace("_", " ")
            made.append(
                f"{text} {now:.{digits}f} {unit}" + ("" if was is None else f" ({was:.{digits}f} before)")
            )
    now, was = after.figures["peak_sensitivity"].value, before.figures["peak_sensitivity"].value
    if now is not None and now > MOST_PEAK and (was is None or now > SLIGHTLY[2] * was):
        made.append(f"peak sensitivity {now:.1f}" + ("" if was is None else f" ({was:.1f} before)"))
    return made
