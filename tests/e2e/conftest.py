"""Real MIDI through a JACK server of our own. Where none can be had, tests are skipped with the reason."""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

HERE = Path(__file__).parent


def _helper(name: str) -> ModuleType:
    """A module beside this file: with importlib import mode they are not on the path."""
    full = f"introit_e2e_{name}"
    if full not in sys.modules:
        spec = importlib.util.spec_from_file_location(full, HERE / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[full] = module
        spec.loader.exec_module(module)
    return sys.modules[full]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Marks what is real, and of that what plays through JACK: it goes one after the other.

    Two servers that come and go at once trip over the registry that they share.
    """
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.e2e)
            if "jack_server" in getattr(item, "fixturenames", ()):
                item.add_marker(pytest.mark.jack)


@pytest.fixture(scope="session")
def _server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    module = _helper("jack_server")
    worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    server = module.JackServer(f"introit{os.getpid()}{worker}", tmp_path_factory.mktemp("jack") / "jackd.log")
    try:
        server.start()
    except module.JackUnavailableError as error:
        server.stop()
        pytest.skip(f"no JACK server: {error}")
    yield server
    server.stop()


@pytest.fixture
def jack_server(_server: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The server, alive; this process and its children use it."""
    server = _server.fresh()
    for name in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER"):
        monkeypatch.setenv(name, server.environ[name])
    return server


@pytest.fixture
def make_recorder(jack_server: Any) -> Iterator[Callable[[str], Any]]:
    """Makes recorders (see recorder.py) that end with the test."""
    made: list[Any] = []

    def make(name: str) -> Any:
        made.append(_helper("recorder").Recorder(name, jack_server.environ))
        return made[-1]

    yield make
    for recorder in made:
        recorder.close()


@pytest.fixture
def recorder(make_recorder: Callable[[str], Any]) -> Any:
    """One recorder: listens at `probe:in`, plays from `probe:out`."""
    return make_recorder("probe")


@pytest.fixture
def owed() -> Callable[[Any], dict[tuple[int, int], int]]:
    """What still sounds after recorded events (see recorder.py)."""
    function: Callable[[Any], dict[tuple[int, int], int]] = _helper("recorder").owed
    return function


@pytest.fixture
def e2e_helper() -> Callable[[str], ModuleType]:
    """Gives a helper module of this folder by its name."""
    return _helper


@pytest.fixture(scope="session")
def stage() -> ModuleType:
    """The helpers of a page in a browser (see stand_stage.py)."""
    return _helper("stand_stage")


@pytest.fixture(scope="module")
def browser(stage: ModuleType) -> Iterator[Any]:
    """A real chromium."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    try:
        path = stage.chromium()
    except stage.BrowserMissingError as error:
        pytest.skip(str(error))
    with sync_api.sync_playwright() as driver:
        # Chromium's own sandbox is not to be had as root or in a container; nothing but our page is opened.
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def begin_daemon(tmp_path: Path) -> Iterator[Callable[..., Any]]:
    """Starts the daemon with its page (see stand_daemon.py); it ends with the test."""
    begun: list[Any] = []

    def begin(tunes: str, **how: Any) -> Any:
        begun.append(_helper("stand_daemon").Daemon(tmp_path, tunes, **how))
        return begun[-1]

    yield begin
    for one in begun:
        one.close()


@pytest.fixture(scope="module")
def lasting_daemon(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., Any]]:
    """The same for whoever shares one among the tests of a module, and puts it back before each."""
    begun: list[Any] = []

    def begin(tunes: str, **how: Any) -> Any:
        begun.append(_helper("stand_daemon").Daemon(tmp_path_factory.mktemp("daemon"), tunes, **how))
        return begun[-1]

    yield begin
    for one in begun:
        one.close()


@pytest.fixture
def kit() -> Any:
    """The helpers of an evening (see evening.py)."""
    return _helper("evening")


@pytest.fixture
def make_evening(
    kit: Any, jack_server: Any, make_recorder: Callable[[str], Any], tmp_path: Path
) -> Iterator[Callable[..., Any]]:
    """Begins evenings (see evening.py) that end with the test; the same two recorders play and listen."""
    made: list[Any] = []
    stage, listen = make_recorder("stage"), make_recorder("listen")

    def make(*, environ: dict[str, str] | None = None, **more: Any) -> Any:
        surroundings = {**jack_server.environ, **(environ or {})}
        made.append(kit.Evening(tmp_path, stage=stage, listen=listen, environ=surroundings, **more))
        return made[-1]

    yield make
    for evening in made:
        evening.close()
    jack_server.killed_a_client()


@pytest.fixture
def evening(make_evening: Callable[..., Any]) -> Any:
    """An evening with the set of evening.py, its first tune ready."""
    begun = make_evening()
    begun.wait_for("ready: Copper Kettle Lane")
    return begun
