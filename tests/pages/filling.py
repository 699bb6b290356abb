"""Reads pages and fills in their forms as a person does: by labels, headings and buttons.

A form is sent as `forms.js` and `report.js` send it; that these do so is tested in a real browser
(tests/browser). What a browser would not let through is refused here, too.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

from uuid_utils.compat import uuid7

from tests.pages.browser import Browser

VOID = {"meta", "img", "br", "link", "input", "hr", "use"}
INLINE = {"a", "code", "em", "output", "span", "strong", "time"}
Filled = Mapping[str, str | bool]


class Node:
    """An element of a page, with the text inside it."""

    def __init__(self, tag: str, at: dict[str, str], parent: "Node | None") -> None:
        self.tag, self.at, self.parent = tag, at, parent
        self.inside: list[Node | str] = []

    @property
    def typed(self) -> str:
        """As it stands there, with its lines."""
        return "".join(one if isinstance(one, str) else one.typed for one in self.inside)

    @property
    def text(self) -> str:
        return " ".join(self.typed.split())

    def all(self, *tags: str) -> Iterator["Node"]:
        for one in self.inside:
            if isinstance(one, Node):
                if one.tag in tags:
                    yield one
                yield from one.all(*tags)

    def around(self, *tags: str) -> Iterator["Node"]:
        """Elements that it stands in, the nearest first."""
        one = self.parent
        while one is not None:
            if one.tag in tags:
                yield one
            one = one.parent


class Tree(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.root = self.open = Node("", {}, None)
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs}, self.open)
        self.open.inside += [node] if tag in INLINE else [" ", node, " "]
        if tag not in VOID:
            self.open = node

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.tag == tag, (tag, self.open.tag)
            assert self.open.parent is not None
            self.open = self.open.parent

    def handle_data(self, data: str) -> None:
        self.open.inside.append(data)


class ShownPage:
    """What somebody sees at an address."""

    def __init__(self, browser: Browser, at: str, answer: Any = None) -> None:
        """answer: what the browser shows, if it is there already."""
        answer = answer or browser.get(at)
        assert answer.status_code == 200, (at, answer.status_code)
        self.browser, self.at = browser, at
        self.root = Tree(answer.content.decode()).root
        (self.main,) = self.root.all("main")

    @property
    def text(self) -> str:
        return self.main.text

    def part(self, heading: str) -> str:
        """The text of the section, article or folded part with this heading."""
        return next(self._parts(heading)).text

    def row(self, table: str, name: str) -> list[str]:
        """The cells of the row that begins with a name, in the table with this caption."""
        for one in self.main.all("table"):
            if next(one.all("caption")).text.startswith(table):
                for row in one.all("tr"):
                    first, *cells = [cell.text for cell in row.all("th", "td")]
                    if first == name:
                        return cells
        raise AssertionError(f"no row {name!r} in {table!r} at {self.at}")

    def send(self, button: str, filled: Filled | None = None, under: str = "") -> Any:
        """Fill in the form with this button and send it; gives what the API answers.

        under: a heading that it stands under, where several forms have such a button.
        """
        return self.form(button, under).send(filled or {})

    def form(self, button: str, under: str = "") -> "FilledForm":
        inside = [*self._parts(under)] if under else [self.main]
        for part in inside:
            for one in part.all("form"):
                if any(_submits(b) and b.text.startswith(button) for b in one.all("button")):
                    return FilledForm(self, one)
        raise AssertionError(f"no form with {button!r} under {under!r} at {self.at}")

    def _parts(self, heading: str) -> Iterator[Node]:
        for one in self.main.all("h2", "h3", "summary"):
            if one.text.startswith(heading):
                yield next(one.around("section", "article", "details", "li"))


def _submits(button: Node) -> bool:
    return button.at.get("type", "submit") == "submit"


class Field:
    def __init__(self, node: Node, form: Node) -> None:
        self.node, self.form, self.name = node, form, node.at.get("name", "")
        self.type = node.at.get("type", node.tag)
        self.checked = "checked" in node.at
        self.value = self._first_value()

    def _first_value(self) -> str:
        if self.node.tag == "textarea":
            return self.node.typed
        if self.node.tag != "select":
            return self.node.at.get("value", "on" if self.type == "checkbox" else "")
        options = [*self.node.all("option")]
        chosen = [one for one in options if "selected" in one.at] or options[:1]
        return chosen[0].at["value"] if chosen else ""

    @property
    def label(self) -> str:
        """With the legend of the group it stands in, as screen readers say it."""
        legends = [next(one.all("legend")).text for one in self.node.around("fieldset")]
        around = next(self.node.around("label"), None)
        own = around or next(
            (one for one in self.form.all("label") if one.at.get("for") == self.node.at.get("id")),
            None,
        )
        return ": ".join([*legends, own.text if own else ""])

    def put(self, said: str | bool) -> None:
        if isinstance(said, bool):
            assert self.type in ("checkbox", "radio"), self.label
            self.checked = said
        elif self.node.tag == "select":
            words = {one.text.lower(): one.at["value"] for one in self.node.all("option")}
            found = [value for one, value in words.items() if one.startswith(said.lower())]
            assert found, (self.label, said, list(words))
            self.value = words.get(said.lower(), found[0])
        else:
            self.value = said
            self._let_through()

    def _let_through(self) -> None:
        if self.type == "number" and self.value:
            step = self.node.at.get("step", "1")
            whole = step == "any" or Decimal(self.value) % Decimal(step) == 0
            assert whole, f"a browser refuses {self.value} at {self.label!r}"

    @property
    def sent(self) -> Any:
        """None: nothing is said."""
        kind, text = self.node.at.get("data-type"), self.value.strip()
        if self.type == "checkbox":
            return self.checked
        if self.type == "radio" and not self.checked:
            return None
        if text == "":
            return {"null": Nothing, "text": ""}.get(self.node.at.get("data-empty", ""))
        if kind == "number":
            return float(text) if "." in text else int(text)
        if kind == "boolean":
            return text == "true"
        if kind == "percent":
            return str(round(float(text) / 100, 6))
        if kind == "time":
            return datetime.fromisoformat(text).astimezone().isoformat()
        return text


class Nothing:
    """An explicit null."""


class FilledForm:
    def __init__(self, page: ShownPage, node: Node) -> None:
        self.page, self.node = page, node
        self.fields = [Field(one, node) for one in node.all("input", "select", "textarea")]

    def send(self, filled: Filled) -> Any:
        for label, said in filled.items():
            self._named(label).put(said)
        body = self._body()
        method, _, path = self.node.at.get("data-api", "").partition(" ")
        if report := self.node.at.get("data-report"):
            method, path, body = "POST", report, self._report(body)
        headers = {"If_Match": self.node.at.get("data-etag", "")}
        if method == "POST":
            headers["Idempotency_Key"] = str(uuid7())
        browser = self.page.browser
        answer = browser.write(method, path, None if method == "DELETE" else body, **headers)
        assert answer.status_code < 300, (method, path, body, answer.content[:500])
        return answer.json() if answer.content else None

    def _named(self, label: str) -> Field:
        found = [
            one
            for one in self.fields
            if one.label == label or one.label.removeprefix(": ").startswith(label)
        ]
        exact = [one for one in found if one.label == label]
        assert len(exact or found) == 1, (label, [one.label for one in self.fields])
        return (exact or found)[0]

    def _body(self) -> dict[str, Any]:
        body: dict[str, Any] = {}
        for one in self.fields:
            kind = one.node.at.get("data-type")
            if not one.name or kind == "currency" or self._hidden(one):
                continue
            if one.name == "csrfmiddlewaretoken":
                continue
            if kind == "list":
                _put(body, one.name, self._ticked(one))
                continue
            said = one.sent
            required = "required" in one.node.at
            assert said is not None or not required, f"{one.label!r} is not filled in"
            if said is None:
                continue
            _put(body, one.name, None if said is Nothing else said)
            if currency := self._currency(one):
                _put(body, one.name.removesuffix("amount") + "currency", currency)
        return body

    def _ticked(self, field: Field) -> list[Any]:
        ticked = [one.value for one in self.fields if one.name == field.name and one.checked]
        inside = field.node.at.get("data-of")
        return [{inside: value} for value in ticked] if inside else ticked

    def _hidden(self, field: Field) -> bool:
        """In a part that other answers need."""
        for part in field.node.around("div", "fieldset"):
            name, _, values = part.at.get("data-unless", "").partition("=")
            if name and self._value(name) in values.split(","):
                return True
        return False

    def _value(self, name: str) -> str:
        return next(one.value for one in self.fields if one.name == name)

    def _currency(self, field: Field) -> str:
        if other := field.node.at.get("data-currency-of"):
            return self._value(other)
        return field.node.at.get("data-currency", "")

    @staticmethod
    def _report(body: dict[str, Any]) -> dict[str, Any]:
        """Rows with nothing but a currency are left out."""
        findings = []
        for row in body.get("findings", ()):
            cost = row.pop("cost", {})
            if "low" in cost or "high" in cost:
                row["cost"] = cost
            if row.get("reason"):
                row["kind"] = "could_not_look"
            if row:
                findings.append(row)
        return {**body, "findings": findings}


def _put(body: dict[str, Any], name: str, value: Any) -> None:
    """A part of a name that is a number is a place in a list: 'shares.0.person'."""
    inside: Any = body
    *parts, last = name.split(".")
    for part, follows in zip(parts, [*parts, last][1:], strict=True):
        inside = _at(inside, part, [] if follows.isdigit() else {})
    if isinstance(inside, list):
        inside.append(value)
    else:
        inside[last] = value


def _at(inside: Any, part: str, fresh: Any) -> Any:
    if isinstance(inside, dict):
        return inside.setdefault(part, fresh)
    while len(inside) <= int(part):
        inside.append(type(fresh)())
    return inside[int(part)]
