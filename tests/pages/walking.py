"""The pages that there are, for walks over all of them."""

import re
from functools import cache

from django.urls import URLPattern

from apps.pages import urls
from apps.pages.base import PageView
from tests.system.walk import Walk

# Read by scripts: no page with a title.
DATA = {"visit-day"}


@cache
def pages() -> dict[str, str]:
    """The pages for signed-in people: their addresses by name, with parameters in braces."""
    return {
        pattern.name: "/" + re.sub(r"<\w+:(\w+)>", r"{\1}", str(pattern.pattern))
        for pattern in urls.urlpatterns
        if isinstance(pattern, URLPattern)
        and issubclass(pattern.callback.view_class, PageView)
        and "get" in vars(pattern.callback.view_class)
    }


def addresses(walk: Walk) -> dict[str, str]:
    named = {**walk.here.named, "request_id": walk.here["look_request_id"]}
    return {name: path.format(**named) for name, path in pages().items()}
