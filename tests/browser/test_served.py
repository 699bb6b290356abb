"""The main journey on PostgreSQL and Redis, with a web server and a worker of their own."""

import pytest

from apps.accounts.one_time_links import first_link_make
from tests.appraisal.building import load_catalogue
from tests.browser.conftest import phones_of
from tests.browser.journey import journey
from tests.browser.line import Line
from tests.system.test_served_jobs import _served, installation, web, worker  # noqa: F401

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served, pytest.mark.long]


def test_from_the_first_evening_to_a_fresh_board(chromium, web, worker):  # noqa: F811
    load_catalogue()
    with phones_of(chromium) as made:
        line = Line("127.0.0.1", int(web.rpartition(":")[2]))
        journey(made(line), f"/start/{first_link_make()}", lambda page, name: None)
