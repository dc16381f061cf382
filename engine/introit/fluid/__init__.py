"""FluidSynth, the system's own library: found, bound and fed. Who plays and who writes files share it."""
