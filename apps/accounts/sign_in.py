"""Sign-in by the API or on a page. Guesses are possible only here, so attempts are counted."""

from django.contrib.auth import authenticate

from apps.accounts.models import Person
from apps.accounts.secrets import digest
from apps.common.errors import Invalid
from apps.http.limits import CacheDown, Policy, forgive, hit_all, wait_s
from apps.http.problems import TooMany, Unavailable


def person_identify(*, email: str, password: str, address: str) -> Person:
    """The person with this email and password, for a request from this network address.

    Raises `Invalid` without saying whether the email or the password was wrong; an unknown email
    takes as long as a known one. Only failures count against the limits, beyond which it raises
    `TooMany`: few for one account from one address; more for the address and for the account, so
    that somebody who guesses from elsewhere does not lock the owner out. Raises `Unavailable` if
    the counters do not work.
    """
    email = email.strip().lower()
    try:
        counts = hit_all(
            (Policy.of("sign_in"), digest(f"{email} {address}")),
            (Policy.of("sign_in_address"), digest(address)),
            (Policy.of("sign_in_account"), digest(email)),
        )
    except CacheDown as error:
        raise Unavailable from error
    if (wait := wait_s(counts)) is not None:
        raise TooMany(wait)
    person = authenticate(username=email, password=password)
    if not isinstance(person, Person) or person.kind != Person.Kind.PERSON:
        raise Invalid.at("", "bad_credentials", "Email and password do not match.")
    forgive(counts)
    return person


def person_confirm(*, person: Person, password: str, address: str, at: str) -> Person:
    """Have a signed-in person prove who they are; returns them as stored.

    Raises as `person_identify` does, but `Invalid` at the field `at`.
    """
    try:
        return person_identify(email=person.email, password=password, address=address)
    except Invalid as refused:
        raise wrong_password(at) from refused


def wrong_password(at: str) -> Invalid:
    return Invalid.at(at, "wrong_password", "This is not your password.")
