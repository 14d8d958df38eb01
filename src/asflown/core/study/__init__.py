"""Evidence of what the computing packages measured: the one place where it is made."""

from asflown.core.study.make import Study, evidence_of
from asflown.core.study.quantities import QUANTITIES, quantity
from asflown.core.study.quantity import Quantity

__all__ = ["QUANTITIES", "Quantity", "Study", "evidence_of", "quantity"]
