"""Textures by their words: how a grip is laid out in time. One module a texture, one table."""

from introit.arrange.textures.bell import Bell
from introit.arrange.textures.block import Block, Rolled
from introit.arrange.textures.broken import Broken
from introit.arrange.textures.common_tone import CommonTone
from introit.arrange.textures.texture import Texture, Work

TEXTURES: dict[str, Texture] = {
    "block": Block(),
    "rolled": Rolled(),
    "broken": Broken(),
    "bell": Bell(),
    "inner line": Block(),
    "two-hand": Block(),
    "harmonised arpeggio": Block(),
    "call and response": Block(),
    "common tone": CommonTone(),
}
"""Every texture by the word that an intro's file uses."""

__all__ = ["TEXTURES", "Texture", "Work"]
