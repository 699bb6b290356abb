"""Runs the examples of the guide as a reader would: one shell after another, in one folder.

`sh` blocks must succeed, or be refused if marked `refused`; later blocks know their variables.
`python` blocks run as scripts, or are saved if they are marked with a file's name. A `json` block
shows part of the last answer that the previous block printed, a `text` block its whole output.
"""

import doctest
import json
import os
import signal
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from server.docs.guide import ORIGIN, Fence

ANYTHING = "..."
REFUSED_BY_HTTP = 22  # curl's exit status with --fail-with-body
SECONDS = 90
SHOWN = "http"  # illustrations that cannot run alone


class ExampleFailed(AssertionError):
    pass


@dataclass
class Reader:
    """Somebody who pastes one example after another into a shell in `folder`."""

    folder: Path
    server: str
    environment: dict[str, str] = field(default_factory=dict)
    printed: str = ""
    started: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        (self.folder / ".curlrc").write_text("fail-with-body\n")
        (self.folder / "state").touch()

    def follow(self, fence: Fence) -> None:
        content = fence.content.replace(ORIGIN, self.server)
        match fence.language:
            case "sh":
                self._shell(content, refused="refused" in fence.words)
            case "python":
                self._python(content, fence.words)
            case "json":
                _compare(json.loads(content), _last_answer(self.printed))
            case "text":
                _compare_text(content, self.printed)
            case other:
                assert other == SHOWN, f"nobody knows how to run {other!r}"

    def _shell(self, content: str, *, refused: bool) -> None:
        # Keep a block's variables for later blocks, as in an open shell.
        script = (
            ". ./state\n"
            "trap 'status=$?; { set +o; export -p; declare -f; } > state; exit $status' EXIT\n"
            "set -e -o pipefail\n" + content
        )
        self._run(["bash", "-c", script], REFUSED_BY_HTTP if refused else 0)

    def _python(self, content: str, words: tuple[str, ...]) -> None:
        for word in words:
            name = word.removeprefix("file=")
            (self.folder / name).write_text(content)
            compile(content, name, "exec")
            return
        (self.folder / "example.py").write_text(content)
        self._run(["bash", "-c", f". ./state; exec {sys.executable} example.py"], 0)

    def _run(self, command: list[str], expected: int) -> None:
        running = subprocess.Popen(
            command,
            cwd=self.folder,
            env={
                "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
                "HOME": str(self.folder),
                "CURL_HOME": str(self.folder),
                "LANG": "C.UTF-8",
                **self.environment,
            },
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,  # so that its background processes can be ended
        )
        self.started.append(running.pid)
        self.printed, complaints = running.communicate(timeout=SECONDS)
        if running.returncode != expected:
            raise ExampleFailed(f"exit status {running.returncode}\n{self.printed}\n{complaints}")

    def leave(self) -> None:
        """End the examples' background processes."""
        for group in self.started:
            with suppress(ProcessLookupError):
                os.killpg(group, signal.SIGKILL)


def _last_answer(printed: str) -> Any:
    """The last of the answers that a block printed."""
    answer, rest = None, printed.strip()
    while rest:
        answer, end = json.JSONDecoder().raw_decode(rest)
        rest = rest[end:].lstrip()
    return answer


def _compare(told: Any, found: Any, at: str = "") -> None:
    """Check that the answer contains everything that the page shows; it may have more."""
    if told == ANYTHING:
        return
    if isinstance(told, dict) and isinstance(found, dict):
        for name, inner in told.items():
            if name not in found:
                raise ExampleFailed(f"{at}/{name} is not in the answer: {found}")
            _compare(inner, found[name], f"{at}/{name}")
    elif isinstance(told, list) and isinstance(found, list):
        if told[:1] == [ANYTHING] and len(told) > 1:
            told, found = told[1:], _from_first_like(told[1], found, at)
        open_end = told[-1:] == [ANYTHING]
        shown = told[:-1] if open_end else told
        if len(found) < len(shown) or (len(found) > len(shown) and not open_end):
            raise ExampleFailed(f"{at} has {len(found)} entries: {found}")
        for index, inner in enumerate(shown):
            _compare(inner, found[index], f"{at}/{index}")
    elif told != found:
        raise ExampleFailed(f"{at or 'the answer'} is {found!r}, not {told!r}")


def _from_first_like(told: Any, found: list[Any], at: str) -> list[Any]:
    for index, one in enumerate(found):
        with suppress(ExampleFailed):
            _compare(told, one)
            return found[index:]
    raise ExampleFailed(f"{at} has nothing like {told}: {found}")


def _compare_text(told: str, found: str) -> None:
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    if not doctest.OutputChecker().check_output(told, found, flags):
        raise ExampleFailed(f"it printed\n{found}\nnot\n{told}")
