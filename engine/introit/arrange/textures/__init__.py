"""Textures by their words: how a grip is laid out in time. One module a texture, one table."""

from introit.arrange.textures.bell import Bell
from introit.arrange.textures.block import Block, Rolled
from introit.arrange.textures.broken import Broken
from introit.arrange.textures.call_and_response import CallAndResponse
from introit.arrange.textures.common_tone import CommonTone
from introit.arrange.textures.harmonised_arpeggio import HarmonisedArpeggio
from introit.arrange.textures.inner_line import InnerLine
from introit.arrange.textures.texture import Texture, Work
from introit.arrange.textures.two_hand import TwoHand

TEXTURES: dict[str, Texture] = {
    "block": Block(),
    "rolled": Rolled(),
    "broken": Broken(),
    "bell": Bell(),
    "inner line": InnerLine(),
    "two-hand": TwoHand(),
    "harmonised arpeggio": HarmonisedArpeggio(),
    "call and response": CallAndResponse(),
    "common tone": CommonTone(),
}
"""Every texture by the word that an intro's file uses."""


def silences_motif(texture: str) -> bool:
    """Whether no motif is said in a texture: it sings for itself, and the motif would not be its call."""
    return TEXTURES[texture].sings and texture != "call and response"


__all__ = ["TEXTURES", "Texture", "Work", "silences_motif"]
