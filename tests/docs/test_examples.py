"""Every example of the guide, run in order against a service started as the README says."""

import socket
import wave
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from server.demo.service import Folder, Service
from server.docs.guide import pages
from tests.docs.running import ExampleFailed, Reader

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def service(
    tmp_path_factory: pytest.TempPathFactory, migrated: Callable[[Path], None]
) -> Iterator[Service]:
    folder = Folder(tmp_path_factory.mktemp("docs") / "data")
    folder.prepare()
    migrated(folder.path / "hardstand.sqlite3")
    service = Service(folder, free_port())
    service.environment["WEBHOOK_OWN_NETWORKS"] = "127.0.0.0/8"  # as the page on webhooks says
    with service.running():
        # As the README says.
        service.manage(
            "add_person", "ada@example.org", "Ada", "--staff", HARDSTAND_PASSWORD="something long"
        )
        service.manage("add_group", "Tern", "ada@example.org")
        yield service


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def reader(service: Service, tmp_path: Path) -> Iterator[Reader]:
    reader = Reader(tmp_path, service.address, {"PORT": str(free_port())})
    yield reader
    reader.leave()


def test_every_example_runs(reader, tmp_path):
    a_picture(tmp_path / "bulkhead.jpg")
    taps(tmp_path / "sound-deck.wav", decay_s=0.20, frequency_hz=900)
    taps(tmp_path / "dull-deck.wav", decay_s=0.06, frequency_hz=600)
    for page in pages():
        for fence in page.fences:
            try:
                reader.follow(fence)
            except (ExampleFailed, ValueError) as trouble:
                pytest.fail(f"{page.slug}, line {fence.line}:\n{fence.content}\n{trouble}")


def a_picture(path: Path) -> None:
    Image.new("RGB", (640, 480), (120, 90, 60)).save(path)


def taps(path: Path, *, decay_s: float, frequency_hz: float, rate_hz: int = 48_000) -> None:
    """Five taps, half a second apart: damped sinusoids that fall by 60 dB in `decay_s`."""
    at = np.arange(rate_hz // 2) / rate_hz
    tap = np.sin(2 * np.pi * frequency_hz * at) * 10 ** (-3 * at / decay_s)
    noise = np.random.default_rng(1).normal(0, 1e-4, 5 * tap.size)
    signal = 0.5 * np.tile(tap, 5) + noise
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((signal * 32_767).astype("<i2").tobytes())
