"""The look over plain HTTP, and while a new version of the pages arrives."""

from tests.browser.conftest import PLAIN_HOST
from tests.browser.phones import picture
from tests.system.processes import until
from tests.system.test_embedded_jobs import pytestmark  # noqa: F401  (where it runs)

VERSION = """async () => (await (await fetch("/sw.js")).text()).match(/"version": "(\\w+)"/)[1]"""
UPDATE = """async () => {
    const registration = await navigator.serviceWorker.getRegistration();
    await registration.update();
}"""
WAITS = "async () => Boolean((await navigator.serviceWorker.getRegistration()).waiting)"
TOOK_OVER = """async () => {
    const { waiting, active } = await navigator.serviceWorker.getRegistration();
    return !waiting && active.state === "activated";
}"""
SHELLS = "async () => (await caches.keys()).filter((name) => name.startsWith('shell-')).sort()"


def test_over_plain_http_an_open_look_keeps_and_sends_and_the_pages_say_what_is_missing(
    phone, yard
):
    visit = yard.visit("Ola")
    ola = phone(host=PLAIN_HOST)
    ola.sign_in("Ola")
    assert ola.page.evaluate("isSecureContext") is False
    ola.sees("These pages come without encryption")
    ola.keep(visit)
    ola.sees("This connection is not secure (http)")
    ola.begin(visit, "Ola", time="Everything")
    ola.tap("All checks")
    ola.page.locator(".row", has_text="Deck by tapping").click()
    ola.read()
    ola.sees("Recording needs a secure connection (https).")
    ola.level(1)
    yard.line.become("closed")
    ola.page.fill("#note", "Weeps.")
    ola.page.set_input_files("#photo", picture())
    ola.level(3)
    ola.finish()
    ola.sees("Kept; it goes by itself")
    yard.line.become("open")
    ola.comes_to("Sent")  # it goes by itself
    ola.go("/outbox")
    ola.sees("Nothing: all that you found is with the service.")
    (submission,) = yard.sent("Ola", visit)
    assert sorted(one["level"] for one in submission["findings"]) == [1, 3]
    assert len(submission["photos"]) == 1


def test_a_new_version_takes_over_when_no_look_is_open(phone, yard):
    visit = yard.visit("Ola")
    ola = phone()
    ola.sign_in("Ola")
    ola.keep(visit)
    ola.begin(visit, "Ola")
    old = ola.page.evaluate(VERSION)
    new = old[::-1]
    yard.line.becomes_in_answers = (old.encode(), new.encode())
    ola.page.evaluate(UPDATE)
    # A script that answers with a promise is asked again here: the page's own wait takes any
    # promise as true.
    until(lambda: ola.page.evaluate(WAITS))

    # Another page asks the new version to take over; it does not do so during a look.
    other = ola.opened()
    other.goto(ola.address)
    other.wait_for_timeout(2000)  # it asks a second after it is loaded
    ola.level(2)
    assert ola.page.evaluate(WAITS)
    assert ola.page.evaluate(SHELLS) == sorted([f"shell-{old}", f"shell-{new}"])
    other.close()

    # The person leaves the look and comes back to it, in the new version.
    at = ola.heading
    ola.go("/")
    until(lambda: ola.page.evaluate(TOOK_OVER))
    assert ola.page.evaluate(SHELLS) == [f"shell-{new}"]
    ola.go(f"/visits/{visit}/look")
    ola.sees(at)
    ola.level(1)
    ola.finish()
    ola.comes_to("Sent")
    (submission,) = yard.sent("Ola", visit)
    assert [one["level"] for one in submission["findings"]] in ([1, 2], [2, 1])
