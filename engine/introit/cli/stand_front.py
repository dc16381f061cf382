"""The front's side of the stand page: starts its process, tells it what happens, does what a page asks for.

A thread of its own reads what is asked: the front may be busy arranging, and a foot on the page must not wait
for that. Whatever becomes of the page's process, nothing here waits for it.
"""

from __future__ import annotations

import contextlib
import io
import queue
import secrets
import selectors
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from introit.cli.repertoire import Asks
from introit.cli.set_file import NO_FILE
from introit.cli.stand_foot import StandFoot
from introit.cli.stand_lesson import Lessons
from introit.cli.stand_set import StandSet
from introit.cli.stand_teller import Teller
from introit.errors import IntroitError
from introit.library.content import user_root
from introit.live.events import FrontEvent, Shown
from introit.live.setup import FootSwitch
from introit.live.states import Ask
from introit.stand.link import End, LinkError, link
from introit.units import NS_PER_SECOND

if TYPE_CHECKING:
    from introit.cli.interlude import Interlude

_AGAIN_SECONDS = 3.0
"""From the end of one process to the start of the next; five that end at once are enough."""
_MOST_STARTS = 5
_JOIN_SECONDS = 1.0
_SOON_SECONDS = 0.05
_CHANGING_SECONDS = 20.0
"""So long after an edit the next one is looked for that often: somebody is changing the set."""
_NEEDED = ("starlette", "uvicorn")
_INSTALL = "It needs the `stand` extra: pip install '.[stand]' in the checkout."
_STALE_NS = NS_PER_SECOND
"""A press that was on its way for longer would start something that nobody waits for."""
CODE_SECONDS = 300
"""How long a pairing code is good for."""


def stand_folder() -> Path:
    """Where paired devices and the page's certificate are kept."""
    return user_root() / "stand"


def qr_lines(text: str) -> list[str]:
    """A QR code in half blocks, for a tablet's camera; none without the library, or a terminal."""
    if not sys.stdout.isatty():
        return []
    try:
        import segno
    except ImportError:
        return []
    drawn = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out=drawn, compact=True, border=2)
    return drawn.getvalue().splitlines()


class Sends(Asks, Protocol):
    """Whoever passes events, and what is arranged, on to the player."""

    def send(self, event: FrontEvent) -> None:
        """Passes one on."""


@dataclass(frozen=True, slots=True)
class StandPlan:
    """How the page is served.

    Attributes:
        listen: address or host name.
        port: of TCP; 0 for any that is free.
        tls: whether by HTTPS, with a certificate made on the spot.
    """

    listen: str = "127.0.0.1"
    port: int = 8742
    tls: bool = False


class StandFront:
    """The page at work, from the first `tick` to `stop`.

    Args:
        plan: how it is served.
        teller: makes its snapshots.
        switch: the setup's foot-switch.
        say: writes a line on the screen; called from the main thread only.
        lessons: makes what the teaching view shows, once a page asks for it; None for no lessons.
        sets: the set with its file; None to tell the tunes alone.
        practice: begins a practice where a page asks for one; None where there can be none.
        argv: begins the process; the link's descriptor is put behind it.
    """

    def __init__(
        self,
        plan: StandPlan,
        teller: Teller,
        switch: FootSwitch,
        *,
        say: Callable[[str], None],
        lessons: Lessons | None = None,
        sets: StandSet | None = None,
        practice: Interlude | None = None,
        argv: Sequence[str] | None = None,
    ) -> None:
        self._plan = plan
        self._teller = teller
        self._foot = StandFoot(switch)
        self._say = say
        self._lessons = lessons
        self._sets = sets
        self._practice = practice
        self._asked = 0.0
        self._teaches = False
        self._place = (-1, "")
        self._argv = argv or [sys.executable, "-m", "introit.stand.process"]
        self._end: End | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._thread: threading.Thread | None = None
        self._told: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self._latest: dict[str, Any] | None = None
        self._set: dict[str, Any] = {}
        self._starts = 0
        self._next_start = 0.0
        self._code_until = 0.0
        self._url, self._pairs = "", False
        self._send: Callable[[FrontEvent], None] | None = None

    # --- the main thread ----------------------------------------------------------------------------

    def tick(self, front: Sends) -> float | None:
        """Starts the process, or another one where it has ended; says what it has told."""
        self._send = front.send
        if self._process is not None and self._process.poll() is not None:
            self._ended(self._process.returncode)
        if self._process is None and self._starts < _MOST_STARTS and time.monotonic() >= self._next_start:
            self._start()
        while not self._told.empty():
            self._hear(self._told.get(), front)
        if self._code_until and time.monotonic() >= self._code_until:
            self._code_until = 0.0
            self._put({"kind": "code", "code": "", "view": False})
        self._tell_set()
        self._teach()
        return _SOON_SECONDS if time.monotonic() < self._asked + _CHANGING_SECONDS else None

    def show(self, shown: Shown) -> None:
        """Tells the page; never waits. A skipped cycle is nothing that a player can mend: it is not told."""
        if shown.what == "lost":
            return
        self._latest = {"kind": "snapshot", **self._teller.tell(shown, time.monotonic_ns()).to_dict()}
        self._put(self._latest)
        if shown.key:
            self._place = shown.tune, shown.key

    def stop(self) -> None:
        """Ends the process, whatever happened. Safe to call twice."""
        process, self._process = self._process, None
        self._starts = _MOST_STARTS
        if process is not None:
            process.terminate()
            try:
                process.wait(_JOIN_SECONDS)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        self._hang_up()

    @property
    def keys(self) -> dict[str, tuple[str, Callable[[], object]]]:
        """Keys of the terminal, with what each does in words and what is done."""
        return {"p": ("pair a device", self.pair), "v": ("pair one to watch", lambda: self.pair(view=True))}

    def pair(self, *, view: bool = False) -> None:
        """Makes a code that pairs one device, and says it; for viewing only, where asked."""
        if not self._url:
            self._say("the stand page is not served yet")
            return
        if not self._pairs:
            self._say("only this machine sees the stand page, and needs no code; --listen shows it to others")
            return
        code = f"{secrets.randbelow(10**6):06d}"
        self._code_until = time.monotonic() + CODE_SECONDS
        self._put({"kind": "code", "code": code, "view": view})
        what = "a device that may only watch" if view else "one device"
        self._say(f"code for {what}, good for {CODE_SECONDS // 60} minutes: {code[:3]} {code[3:]}")
        for line in qr_lines(f"{self._url}#pair={code}"):
            self._say(line)

    def _start(self) -> None:
        self._starts += 1
        if missing := [name for name in _NEEDED if find_spec(name) is None]:
            self._starts = _MOST_STARTS
            self._say(f"the stand page cannot be served: {' and '.join(missing)} not installed. {_INSTALL}")
            return
        end, theirs = link()
        plan = self._plan
        argv = [*self._argv, "--fd", str(theirs.fileno()), "--listen", plan.listen, "--port", str(plan.port)]
        argv += ["--data", str(stand_folder())]
        if plan.tls:
            argv.append("--tls")
        try:
            self._process = subprocess.Popen(
                argv, pass_fds=(theirs.fileno(),), stdin=subprocess.DEVNULL, start_new_session=True
            )
        except OSError as error:
            self._say(f"the stand page cannot be served: {error.strerror or error}")
            self._starts = _MOST_STARTS
            end.close()
            return
        finally:
            theirs.close()
        self._end, self._set = end, {}
        self._thread = threading.Thread(target=self._read, args=(end,), name="stand", daemon=True)
        self._thread.start()
        if self._latest is not None:
            self._put(self._latest)

    def _ended(self, code: int | None) -> None:
        self._process = None
        self._hang_up()
        self._next_start = time.monotonic() + _AGAIN_SECONDS
        again = "" if self._starts >= _MOST_STARTS else "; it is started again"
        self._say(f"the stand page's process has ended ({code}){again}")

    def _hang_up(self) -> None:
        """Closes our end, once the thread has seen that theirs is gone: nothing tells it that its own is."""
        if self._thread is not None:
            self._thread.join(_JOIN_SECONDS)
        if self._end is not None:
            self._end.close()
            self._end = None

    def _hear(self, told: dict[str, Any], front: Sends) -> None:
        kind = told.get("kind")
        if kind == "serving":
            self._url, self._pairs = str(told.get("url")), bool(told.get("pairing"))
            self._say(f"stand page: {self._url}")
            if told.get("fingerprint"):
                self._say(f"its certificate's SHA-256: {told['fingerprint']}")
            if self._pairs:
                self.pair()
        elif kind == "failed":
            self._say(f"the stand page cannot be served: {told.get('reason')}")
            self._starts = _MOST_STARTS
        elif told.get("do") == "teach" and self._lessons is not None:
            self._teaches = True
            self._lessons.forget()
        elif told.get("do") == "edit":
            self._asked = time.monotonic()
            self._put({"kind": "answer", "id": told.get("id"), **self._answer(told, front)})
        elif told.get("do") == "paired":
            to = " to look on" if told.get("view") else ""
            self._code_until = 0.0
            self._say(f"stand page: {told.get('name') or told.get('device')} is paired{to}")
        elif told.get("do") == "code":
            self._code_until = 0.0
            self._say(f"the code is good no more: {told.get('gone')}")
        elif told.get("do") == "note":
            self._say(f"stand page: {told.get('text')}")

    def _answer(self, told: dict[str, Any], front: Sends) -> dict[str, Any]:
        edit = told.get("edit")
        if isinstance(edit, dict) and "practise" in edit and len(edit) == 1:
            if self._practice is None:
                return {"ok": False, "stale": False, "error": "There is no practice to begin here."}
            return self._practice.do(told, front)
        asks_only = isinstance(edit, dict) and "offer" in edit
        if self._practice is not None and self._practice.on and not asks_only:
            return {
                "ok": False,
                "stale": False,
                "error": "The set stays as it is while something is practised.",
            }
        return self._sets.do(told, front) if self._sets else {"ok": False, "error": NO_FILE}

    def _teach(self) -> None:
        """Sends the lesson of what is ready or playing, where a page has asked and it is another one."""
        if not self._teaches or self._lessons is None:
            return
        try:
            lesson = self._lessons.lesson(*self._place)
        except IntroitError as error:
            self._teaches = False
            self._put({"kind": "lesson", "error": str(error)})
            return
        if lesson is not None:
            self._put({"kind": "lesson", **lesson})

    def _tell_set(self) -> None:
        if self._end is None:
            return
        told = (
            self._sets.told()
            if self._sets
            else {"revision": "", "why": NO_FILE, "tunes": self._teller.tunes()}
        )
        practice = "none" if self._practice is None else "on" if self._practice.on else "off"
        told = {**told, "practice": practice}
        if told != self._set:
            self._set = told
            self._put({"kind": "set", **told})

    def _put(self, message: dict[str, Any]) -> None:
        end = self._end
        if end is not None:
            with contextlib.suppress(LinkError, ValueError):
                end.put(message)

    # --- the thread ---------------------------------------------------------------------------------

    def _read(self, end: End) -> None:
        due: list[tuple[int, FrontEvent]] = []
        with contextlib.suppress(LinkError, OSError, ValueError), selectors.DefaultSelector() as selector:
            selector.register(end.fileno(), selectors.EVENT_READ)
            while True:
                now = time.monotonic_ns()
                wait = max(0, due[0][0] - now) / NS_PER_SECOND if due else 0.2
                if selector.select(wait):
                    for told in end.receive():
                        self._take(told, due)
                if end.pending:
                    end.flush()
                now = time.monotonic_ns()
                while due and due[0][0] <= now:
                    if self._send is not None:
                        self._send(due[0][1])
                    del due[0]
        if self._send is not None:  # whoever pressed is gone: the foot comes up
            for gone in ({"do": "up"}, {"do": "lesson", "ask": Ask.CLOSE}):
                for _, event in self._foot.events(gone, time.monotonic_ns()):
                    self._send(event)

    def _take(self, told: dict[str, Any], due: list[tuple[int, FrontEvent]]) -> None:
        if told.get("do") in {"down", "up", "order", "key", "tempo", "lesson"}:
            asked = told.get("at")
            stale = isinstance(asked, int) and time.monotonic_ns() - asked > _STALE_NS
            if stale and told["do"] != "up" and told.get("ask") != Ask.CLOSE:
                return  # nobody wants that any more
            with contextlib.suppress(KeyError, TypeError, ValueError):
                due += self._foot.events(told, time.monotonic_ns())
                due.sort(key=lambda one: one[0])
        else:
            self._told.put(told)
