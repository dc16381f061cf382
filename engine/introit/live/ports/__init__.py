"""The port libraries, each in its own file and imported only when a port of its kind is opened.

What a kind of port cannot promise:

- JACK: notes of a cycle that the server skipped may not sound; `Lost` tells, and their offs are repeated.
  After a player's death the front's fresh client releases what sounds wherever the dead one was connected,
  its virtual ports too; a destination connected in the last instants may be missed. Nothing reaches a server
  that has died itself.
- RtMidi (ALSA, CoreMIDI, Windows): no timestamps, so a note leaves when the loop wakes. It does not tell that
  a device has gone: that is noticed within about a second, and what was sent meanwhile is lost. A virtual
  port dies with the player, so whoever listened to it cannot be released from outside: only Active Sensing,
  where it is heeded, ends its notes. Windows has no virtual ports. Of two devices with one name ALSA tells
  which has gone; where there is only the name (CoreMIDI, Windows) that is not known (see `whereabouts`).
- memory: promises everything, and is heard by nobody.
"""
