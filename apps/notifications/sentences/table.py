"""The sentence of each type of notification."""

from collections.abc import Callable

from apps.common.wording import FOR_THE_PROFESSIONAL, NOT_A_SURVEY
from apps.notifications.models import Notification
from apps.notifications.sentences import buying, clubs, lists, surveys, visits
from apps.notifications.types import NOTIFICATION_TYPES
from apps.notifications.words import Words

CAUTION = f"{NOT_A_SURVEY} {FOR_THE_PROFESSIONAL}"

SENTENCES: dict[str, Callable[[Notification, Words], str]] = {
    name: function
    for module in (buying, clubs, lists, surveys, visits)
    for name, function in vars(module).items()
    if name in NOTIFICATION_TYPES
}


def sentence(notification: Notification, words: Words) -> str:
    return SENTENCES[notification.type](notification, words)
