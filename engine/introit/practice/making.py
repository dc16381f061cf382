"""A pass made ready to play: arranged, then cut as the pass wants it."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.legal import ChannelOf, own_channel
from introit.performance import Performance
from introit.practice.passes import Pass
from introit.practice.subject import Subject


def made(one: Pass, subjects: Sequence[Subject], *, channel_of: ChannelOf = own_channel) -> Performance:
    """The performance of a pass, legal for the given channels.

    Args:
        one: the pass.
        subjects: those that the room was given.
        channel_of: part number to (output, channel).

    Raises:
        ArrangeError: when the intro cannot be played in the pass's key.
    """
    raise NotImplementedError
