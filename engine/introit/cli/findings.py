"""What a measurement says: figures, a verdict, and what to change. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from introit.cli.histogram import Figures
from introit.cli.machine import GROUPS, Machine
from introit.cli.measuring import Measured
from introit.live.ports.jack_port import MARGIN_NS
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS

LATENCY_MS: Final = 10.0
"""Most latency that an instrument played live may have [WW02]."""
JITTER_MS: Final = 1.0
"""Most that its latency may vary [WW02]."""
_WANTED: Final = (
    f"  wanted of a live instrument (Wessel and Wright, 2002): latency at most {LATENCY_MS:g} ms, "
    f"jitter at most {JITTER_MS:g} ms"
)
SHORT_PERIOD: Final = 128
"""Frames; two of them are 5.3 ms at 48,000 a second."""


@dataclass(frozen=True, slots=True)
class PortFinding:
    """One port.

    Attributes:
        name, system: as the rig and the program call them.
        into: what it plays into.
        ahead: whether it takes events ahead and places them itself, as JACK does.
        latency: milliseconds from the foot to the message, as far as the program knows: what lies beyond the
            port (cable, synth, loudspeaker) comes on top.
        late: by how much messages left after their time.
    """

    name: str
    system: str
    into: tuple[str, ...]
    ahead: bool
    latency: float
    late: Figures

    @property
    def wrong(self) -> list[str]:
        """What is worse than published figures allow."""
        found = []
        if not self.late.count:
            found.append("nothing could be sent: it has nothing to play into")
        if self.latency > LATENCY_MS:
            found.append(f"latency {self.latency:.1f} ms, at most {LATENCY_MS:g} is wanted")
        if self.late.jitter > JITTER_MS:
            found.append(f"jitter {self.late.jitter:.2f} ms, at most {JITTER_MS:g} is wanted")
        return found


@dataclass(frozen=True, slots=True)
class Findings:
    """All of it.

    Attributes:
        ports: one each.
        woke: by how much the loop was late to hand over.
        lost: how often a cycle was skipped.
        seconds: how long it took.
    """

    ports: tuple[PortFinding, ...]
    woke: Figures
    lost: int
    seconds: float

    @property
    def wrong(self) -> list[str]:
        """What is wrong, a line each; none when all is fine."""
        found = [f"{port.name}: {reason}" for port in self.ports for reason in port.wrong]
        if self.lost:
            found.append(f"the MIDI system skipped a cycle {_times(self.lost)}")
        return found

    @property
    def jitters(self) -> bool:
        """Whether some port is uneven by more than it may, or now and then by more."""
        return any(port.late.jitter > JITTER_MS or port.late.over for port in self.ports)

    def as_json(self, measured: Measured, machine: Machine, advice: Sequence[str]) -> dict[str, Any]:
        """Everything for programs: milliseconds."""
        return {
            "fine": not self.wrong,
            "wrong": self.wrong,
            "advice": list(advice),
            "seconds": self.seconds,
            "wanted": {"latency": LATENCY_MS, "jitter": JITTER_MS},
            "granted": measured.granted.named(),
            "ports": [{**asdict(port), "jitter": port.late.jitter} for port in self.ports],
            "woke": asdict(self.woke),
            "lost_cycles": self.lost,
            "records_dropped": measured.dropped,
            "machine": asdict(machine),
        }


def findings_of(measured: Measured, ports: Sequence[PortSetup], seconds: float) -> Findings:
    """Makes figures of what was measured."""
    found = []
    for index, port in enumerate(ports):
        late = Figures.of(measured.late[index])
        ahead = measured.lookaheads[index] > 0
        latency = measured.latencies[index]
        if port.system == "jack":
            # What comes in waits for its cycle to end, what is begun then goes out in the next but one.
            latency = 2 * latency + MARGIN_NS
        placed = latency / NS_PER_MS if ahead else 0.0
        into = tuple(measured.destinations.get(index, ()))
        found.append(PortFinding(port.name, port.system, into, ahead, placed + max(0.0, late.p50), late))
    return Findings(tuple(found), Figures.of(measured.woke), measured.lost, seconds)


def verdict(findings: Findings) -> list[str]:
    """Lines in words; the first says whether it is fine."""
    wrong = findings.wrong
    if wrong:
        return ["not good enough for playing live:", *(f"  {reason}" for reason in wrong), _WANTED]
    over = sum(port.late.over for port in findings.ports)
    worst = max((port.late.worst for port in findings.ports), default=0.0)
    lines = [
        f"good enough for playing live: latency at most {LATENCY_MS:g} ms, jitter at most {JITTER_MS:g} ms"
    ]
    if over:
        lines.insert(1, f"  but {_times(over)} a message was more than 1 ms late, at worst {worst:.1f} ms")
    return lines


def advice(findings: Findings, measured: Measured, machine: Machine, *, user: str) -> list[str]:
    """What to change, the most useful first; nothing where nothing is wrong and everything was granted."""
    lines = [*_about_ports(findings), *_about_jack(findings, machine)]
    if machine.linux:
        lines += _about_rights(measured, machine, user)
        lines += _about_power(findings, measured, machine)
    elif findings.jitters:
        lines.append("set the machine's power profile to its best performance, and plug it into the mains")
    if findings.jitters and any(port.system == "rtmidi" for port in findings.ports):
        lines.append("plug the MIDI interface into the machine itself, not into a USB hub")
    return lines


def _about_ports(findings: Findings) -> list[str]:
    if any(not port.late.count for port in findings.ports):
        return ["connect a synth, or name one in the rig behind `to:` ('introit ports' lists what there is)"]
    return []


def _about_jack(findings: Findings, machine: Machine) -> list[str]:
    server = machine.server
    if server is None or all(port.system != "jack" for port in findings.ports):
        return []
    lines = []
    if not server.real_time:
        lines.append("start the JACK server in real-time mode: jackd -R ...")
    slow = any(port.system == "jack" and port.latency > LATENCY_MS for port in findings.ports)
    if slow:
        lines.append(
            f"give JACK a shorter period (it has {server.period} frames): "
            f"jackd -R -d alsa -p {SHORT_PERIOD}, or with PipeWire: {_quantum(SHORT_PERIOD)}"
        )
    elif findings.lost:
        lines.append(
            f"JACK skips cycles: a longer period than {server.period} frames helps (jackd ... -p "
            f"{server.period * 2}, or with PipeWire: {_quantum(server.period * 2)}), "
            "and so does ending other programs"
        )
    return lines


def _quantum(frames: int) -> str:
    """How PipeWire, where it serves JACK's programs, is given a period (pipewire(1), runtime settings)."""
    return f"pw-metadata -n settings 0 clock.force-quantum {frames}"


def _about_rights(measured: Measured, machine: Machine, user: str) -> list[str]:
    granted, lines = measured.granted, []
    group = next((name for name in GROUPS if name in machine.groups), GROUPS[0])
    limits = machine.limits
    rules = []
    if not granted.real_time and (limits is None or not limits.priority):
        rules.append(f"@{group} - rtprio 95")
    if not granted.memory_locked and (limits is None or limits.memory is not None):
        rules.append(f"@{group} - memlock unlimited")
    if rules:
        what = " and ".join(f"'{rule}'" for rule in rules)
        lines.append(f"write {what} into /etc/security/limits.d/audio.conf")
        if group not in machine.groups:
            lines.append(f"join the group: sudo usermod -aG {group} {user}")
        lines.append("log out and in again: limits and groups count from then on")
    elif not granted.real_time:
        lines.append(
            "real-time scheduling was refused although the limit allows it: a container, or a cgroup?"
        )
    return lines


def _about_power(findings: Findings, measured: Measured, machine: Machine) -> list[str]:
    if not findings.jitters:
        return []
    lines = []
    slow = [name for name in machine.governors if name != "performance"]
    if slow:
        lines.append(
            f"let the cores run at full speed (they are governed by {', '.join(slow)}): "
            "powerprofilesctl set performance, or cpupower frequency-set -g performance"
        )
    if not measured.granted.cores_awake:
        lines.append(
            'keep the cores from deep sleep: KERNEL=="cpu_dma_latency", GROUP="audio", MODE="0660" '
            "in /etc/udev/rules.d/99-audio.rules"
        )
    return lines


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
