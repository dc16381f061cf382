"""The practice room: what is practised when, and the log of it. Nothing here plays, shows or asks a clock."""
