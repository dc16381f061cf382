"""A score judged: the rules that every intro keeps, and the measures of what keeps it human."""

from introit.arrange.review.breach import Breach
from introit.arrange.review.movement import Movement, movement
from introit.arrange.review.review import RULES, review

__all__ = ["RULES", "Breach", "Movement", "movement", "review"]
