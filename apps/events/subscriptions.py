"""Subscriptions to kinds of events, in this process.

A handler runs inside the transaction of the change, before the event is written. So the
consequences of a change take effect at the same moment, a handler that raises undoes the change,
and rows are locked before the group's sequence. A handler sends messages to workers with
`transaction.on_commit`.

A handler of written events is called with each event once it has its number, last in the
transaction and while the group's sequence is locked. It may lock only what nobody locks before a
sequence.

Handlers of a kind run in the order of the apps in `INSTALLED_APPS`. They are in the module
`subscribers` of an app, which `EventsConfig` imports.
"""

from collections import defaultdict
from collections.abc import Callable

from apps.events.models import Event

Handler = Callable[[Event], None]

# Events for handlers only: they are never written, so the feed and webhooks do not have them.
INTERNAL = {
    "person.password_changed": "a person's password is another one now",
    "list.inputs_changed": "what the results of a list depend on has changed",
    "club_member.changed": "a member of a club got another role",
    "club_member.left": "somebody left a club",
    "program_member.joined": "a program of a group got an account that belongs to the group",
    "program_member.changed": "it got another role",
    "program_member.left": "it left the group",
    "group.club_access_ends": "a group leaves its club: first all access to each other's "
    "boats ends, because people who look at a boat lock what gives them access first",
    "group.club_ends": "the same group: what it had from the club ends, or becomes its own",
}

_handlers: defaultdict[str, list[Handler]] = defaultdict(list)
_of_written: list[Handler] = []


def subscribe(*kinds: str) -> Callable[[Handler], Handler]:
    """Decorator: call the function with each event of these kinds."""

    def add(handler: Handler) -> Handler:
        for kind in kinds:
            _handlers[kind].append(handler)
        return handler

    return add


def subscribe_to_written(handler: Handler) -> Handler:
    """Decorator: call the function with each event of any kind as it is written."""
    _of_written.append(handler)
    return handler


def unsubscribe(handler: Handler) -> None:
    for handlers in (*_handlers.values(), _of_written):
        if handler in handlers:
            handlers.remove(handler)


def handlers_of(kind: str) -> tuple[Handler, ...]:
    return tuple(_handlers.get(kind, ()))


def handlers_of_written() -> tuple[Handler, ...]:
    return tuple(_of_written)
