"""What a Python programmer would reach for, on JACK: mido's own file player; an echo of mido messages.

A script: `play FILE DESTINATION` plays a MIDI file into a port, `echo SOURCE DESTINATION` answers each press
of a foot-switch with a note. The port is the plainest there is: a queue that the callback empties; what does
not fit into a cycle waits for the next.
"""

from __future__ import annotations

import queue
import sys
import time

LEAST_ROOM = 16
"""Bytes that must be free in a cycle's buffer for one more message."""


def _main(what: str, source: str, destination: str) -> None:
    import jack
    import mido

    client = jack.Client(f"mido-{what}", no_start_server=True)
    out = client.midi_outports.register("out")
    into = client.midi_inports.register("in")
    leaving: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    heard: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def process(_frames: int) -> None:
        out.clear_buffer()
        for _, data in into.incoming_midi_events():
            heard.put(bytes(data))
        while not leaving.empty() and out.max_event_size > LEAST_ROOM:
            out.write_midi_event(0, leaving.get())

    client.set_process_callback(process)
    with client:
        client.connect(out.name, destination)
        if what == "echo":
            client.connect(source, into.name)
            print("ready", flush=True)
            while True:
                message = mido.Message.from_bytes(heard.get())
                if message.type == "control_change" and message.value >= 64:
                    leaving.put(bytes(mido.Message("note_on", note=60, velocity=80).bytes()))
        print("ready", flush=True)
        for message in mido.MidiFile(source).play():
            leaving.put(bytes(message.bytes()))
        time.sleep(0.2)
    print("done", flush=True)


if __name__ == "__main__":
    _main(*sys.argv[1:])
