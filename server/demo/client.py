"""A client of the API that uses only the standard library."""

import json
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from email.message import Message
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

API = "/api/v1"
TIMEOUT_SECONDS = 60
TOO_MANY = 429  # requests: the answer says how long to wait


@dataclass(frozen=True)
class Answer:
    status: int
    headers: Mapping[str, str] | Message
    body: bytes

    @property
    def data(self) -> Any:
        return json.loads(self.body) if self.body else None


# Method, path from the server's root, body, headers.
Transport = Callable[[str, str, bytes | None, dict[str, str]], Answer]


class RequestRefused(Exception):
    """The service refused a request and said why (RFC 9457), field by field."""

    def __init__(self, method: str, path: str, answer: Answer) -> None:
        self.status, self.problem = answer.status, _problem(answer)
        lines = [f"{method} {path} was refused ({answer.status}): {self.problem.get('detail')}"]
        lines += [
            f"    {fault['pointer'] or '(the whole body)'}: {fault['detail']}"
            for fault in self.problem.get("errors", ())
        ]
        super().__init__("\n".join(lines))


def _problem(answer: Answer) -> dict[str, Any]:
    try:
        problem = answer.data
    except ValueError:
        problem = None
    return problem if isinstance(problem, dict) else {"detail": answer.body[:200].decode()}


def over_http(address: str) -> Transport:
    """Requests to a running service, for example at http://127.0.0.1:8000."""

    def send(method: str, path: str, body: bytes | None, headers: dict[str, str]) -> Answer:
        request = Request(address + path, data=body, headers=headers, method=method)  # noqa: S310
        try:
            with urlopen(request, timeout=TIMEOUT_SECONDS) as response:  # noqa: S310
                return Answer(response.status, response.headers, response.read())
        except HTTPError as error:
            return Answer(error.code, error.headers, error.read())

    return send


class Client:
    """Sends requests as one person, or anonymously without a token."""

    def __init__(self, transport: Transport, token: str = "") -> None:
        self.transport = transport
        self.headers = {"Authorization": f"Bearer {token}"} if token else {}

    def signed_in(self, email: str, password: str) -> "Client":
        session = self.post("/sessions", {"email": email, "password": password})
        return Client(self.transport, session["token"])

    def get(self, path: str) -> Any:
        return self._send("GET", path).data

    def get_file(self, path: str) -> bytes:
        return self._send("GET", path).body

    def pages(self, path: str) -> Iterator[Any]:
        """Every entry of a collection, page after page."""
        at: str | None = path
        while at:
            page = self.get(at)
            yield from page["results"]
            at = page["next"] and page["next"][page["next"].index(API) + len(API) :]

    def post(self, path: str, body: Any) -> Any:
        """Create a record once, however often the request must be sent."""
        return self._send("POST", path, body, {"Idempotency-Key": str(uuid.uuid4())}).data

    def upload(self, path: str, fields: Mapping[str, str], name: str, file: bytes) -> Any:
        """Create a record with a file, as a form of several parts (RFC 7578)."""
        boundary = uuid.uuid4().hex
        parts = [
            f'--{boundary}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{value}\r\n'
            for field, value in fields.items()
        ]
        head = (
            f'--{boundary}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n"
        )
        data = "".join([*parts, head]).encode() + file + f"\r\n--{boundary}--\r\n".encode()
        return self._send(
            "POST",
            path,
            data,
            {
                "Content-Type": f"multipart/form-data; boundary={boundary}",
                "Idempotency-Key": str(uuid.uuid4()),
            },
        ).data

    def put(self, path: str, body: Any) -> Any:
        """Create a record at its address; there is no version to read before."""
        return self._send("PUT", path, body).data

    def change(self, method: str, path: str, body: Any) -> Any:
        """Read a shared record, then change exactly the version that was read."""
        etag = self._send("GET", path).headers["ETag"]
        return self._send(method, path, body, {"If-Match": etag}).data

    def _send(
        self, method: str, path: str, body: Any = None, headers: Mapping[str, str] | None = None
    ) -> Answer:
        sent = {**self.headers, **(headers or {})}
        data = body if isinstance(body, bytes) else None
        if body is not None and data is None:
            data = json.dumps(body).encode()
            sent["Content-Type"] = "application/json"
        answer = self.transport(method, API + path, data, dict(sent))
        while answer.status == TOO_MANY:
            time.sleep(float(answer.headers.get("Retry-After", 1)))
            answer = self.transport(method, API + path, data, dict(sent))
        if answer.status >= 400:
            raise RequestRefused(method, path, answer)
        return answer
