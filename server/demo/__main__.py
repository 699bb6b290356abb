"""Start the service, let the invented group use it, print the board, stay up until Ctrl-C."""

import argparse
import json
import signal
import sys
import threading
import time
from pathlib import Path
from urllib.error import URLError

from server.demo import show
from server.demo.client import Client, RequestRefused, over_http
from server.demo.play import PASSWORD, Player
from server.demo.reading import read, save
from server.demo.scenario import Scenario, read_scenario
from server.demo.service import ROOT, CannotRun, Folder, Service


def main() -> int:
    options = _options()
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        run(options)
    except (CannotRun, RequestRefused) as trouble:
        print(f"\n{trouble}", file=sys.stderr)
        return 1
    except URLError as trouble:
        print(f"\nThe service no longer answers: {trouble.reason}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.")
    return 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="sh server/run demo", description=__doc__)
    parser.add_argument(
        "--data",
        type=Path,
        default=ROOT / ".data" / "demo",
        help="the folder for the demo's data (default: .data/demo); delete it to start again",
    )
    parser.add_argument("--port", type=int, help="default: 8000 if it is free, or any free one")
    parser.add_argument("--stop-after", action="store_true", help="end once the board is printed")
    return parser.parse_args()


def _interrupt(*_: object) -> None:
    raise KeyboardInterrupt


def run(options: argparse.Namespace) -> None:
    scenario = read_scenario(ROOT / "fixtures" / "demo")
    folder = Folder(options.data)
    printed = folder.prepare()
    service = Service(folder, options.port)
    print(f"Starting the service on {service.address} (data and log in {folder.path}) ...")
    with service.running():
        transport = over_http(service.address)
        if printed:
            print("The story is in that folder already: it is read, not played again.")
        else:
            _first_account(service, scenario)
            started = time.monotonic()
            Player(scenario, transport, print).play()
            folder.printed_already()
            print(f"Played through the API in {time.monotonic() - started:.0f} s.")
        organiser = Client(transport).signed_in(scenario.organiser["email"], PASSWORD)
        found = read(organiser, scenario)
        show.reading(found, print)
        _look_around(service, scenario, found.list_path, save(organiser, found, folder.path))
        if not options.stop_after:
            print("\nThe service stays up until Ctrl-C.")
            threading.Event().wait()
    print("Stopped.")


def _first_account(service: Service, scenario: Scenario) -> None:
    """Add the first person and a group for that person, as an operator does once."""
    first = scenario.organiser
    service.manage("add_person", first["email"], first["name"], HARDSTAND_PASSWORD=PASSWORD)
    service.manage("add_group", scenario.group["name"], first["email"])


def _look_around(service: Service, scenario: Scenario, at: str, saved: list[Path]) -> None:
    people = ", ".join(person["email"] for person in scenario.people)
    api = f"{service.address}/api/v1"
    for line in show.titled("Look around"):
        print(line)
    print("   In a browser, as one of the group; each link signs in once:")
    for name, path in json.loads(service.manage("demo_links")).items():
        print(f"   {name}: {service.address}{path}")
    print(f"   Later, or by a program: {people},")
    print(f"   password {PASSWORD} (POST {api}/sessions gives a token).")
    print(f"   The API's documentation, to try it out: {service.address}/docs/")
    for path in saved:
        print(f"   {api}{at}/{path.name}")
        print(f"     also saved as {path}")


if __name__ == "__main__":
    sys.exit(main())
