"""The main journey on the embedded default; makes the pictures of the page "On Saturday".

To make the committed pictures anew: `JOURNEY_PICTURES=1 pytest tests/browser/test_journey.py`.
"""

import io
import os
import re
from pathlib import Path
from urllib.parse import urlsplit

from PIL import Image
from playwright.sync_api import Page

from server.docs.guide import saturday
from tests.browser.conftest import phones_of, served_empty, start_of
from tests.browser.journey import journey
from tests.browser.line import Line
from tests.system.test_embedded_jobs import pytestmark  # noqa: F401  (where it runs)

FOLDER = Path("server/docs/static/docs/saturday")


def test_the_journey_makes_the_pictures_that_the_docs_show(chromium, tmp_path, migrated):
    folder = FOLDER if os.environ.get("JOURNEY_PICTURES") else tmp_path

    def show(page: Page, name: str) -> None:
        made = Image.open(io.BytesIO(page.screenshot()))
        made.convert("RGB").save(folder / f"{name}.webp", quality=70, method=6)

    with served_empty(tmp_path, migrated) as service, phones_of(chromium) as made:
        line = Line("127.0.0.1", service.port)
        phone = made(line, device_scale_factor=1.5, color_scheme="light")
        journey(phone, urlsplit(start_of(service)).path, show)
    shown = re.findall(r'src="/static/docs/saturday/([\w.-]+)"', saturday().html)
    assert sorted(path.name for path in folder.glob("*.webp")) == sorted(set(shown))
