"""Textures by their words: how a grip is laid out in time. One module a texture, one table."""

from introit.arrange.score import Touch
from introit.arrange.textures.block import Block
from introit.arrange.textures.texture import Texture, Work

TEXTURES: dict[str, Texture] = {
    "block": Block(),
    "rolled": Block(Touch.ROLLED),
    "broken": Block(),
    "bell": Block(),
    "inner line": Block(),
    "two-hand": Block(),
    "harmonised arpeggio": Block(),
    "call and response": Block(),
    "common tone": Block(),
}
"""Every texture by the word that an intro's file uses."""

__all__ = ["TEXTURES", "Texture", "Work"]
