"""What a log can be used for, what not, and what to log or fly next time."""

from asflown.core.fitness.judge import fitness
from asflown.core.fitness.uses import Family, Grade, Use

__all__ = ["Family", "Grade", "Use", "fitness"]
