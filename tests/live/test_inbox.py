"""The inbox: order, waking, and no blocking."""

from __future__ import annotations

import select
import socket
import threading

from introit.live.events import Gone, Heard
from introit.live.inbox import Inbox


def test_gives_each_once_in_order_and_says_when() -> None:
    inbox = Inbox()
    assert not inbox.pending
    assert not inbox.wait(0)
    inbox.put(Heard(0, 5, b"\xfe"))
    inbox.put(Gone(1, "unplugged"))
    assert inbox.pending
    assert select.select([inbox], [], [], 0)[0] == [inbox]
    assert inbox.wait(None)
    assert inbox.drain() == [Heard(0, 5, b"\xfe"), Gone(1, "unplugged")]
    assert inbox.drain() == []
    assert select.select([inbox], [], [], 0)[0] == []
    inbox.close()


def test_another_thread_ends_a_wait_without_limit() -> None:
    inbox = Inbox()
    thread = threading.Thread(target=inbox.put, args=(Heard(0, 1, b"\xf8"),))
    thread.start()
    assert inbox.wait(None)
    thread.join()
    assert inbox.drain() == [Heard(0, 1, b"\xf8")]
    inbox.close()


def test_a_full_wake_up_neither_blocks_nor_loses() -> None:
    inbox = Inbox()
    events = [Heard(0, ns, b"\xf8") for ns in range(20_000)]
    for event in events:
        inbox.put(event)
    assert inbox.drain() == events
    assert select.select([inbox], [], [], 0)[0] == []
    inbox.close()


def test_a_watched_descriptor_ends_a_wait() -> None:
    inbox = Inbox()
    near, far = socket.socketpair()
    inbox.watch(near.fileno())
    far.send(b"x")
    assert inbox.wait(None)
    inbox.unwatch(near.fileno())
    inbox.unwatch(near.fileno())
    assert not inbox.wait(0)
    near.close()
    far.close()
    inbox.close()


def test_waking_leaves_no_event() -> None:
    inbox = Inbox()
    inbox.wake()
    assert inbox.wait(None)
    assert not inbox.pending
    assert inbox.drain() == []
    inbox.close()


def test_after_closing_a_put_does_no_harm() -> None:
    inbox = Inbox()
    inbox.close()
    inbox.close()
    inbox.put(Heard(0, 1, b"\xf8"))
