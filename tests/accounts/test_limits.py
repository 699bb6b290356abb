"""Rate limits, also for guessed passwords."""

import re
import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.test import Client
from redis.exceptions import ConnectionError as CacheRefuses

from apps.accounts.models import Person
from apps.http.limits import Policy, hit
from tests.accounts.oauth import PASSWORD, gauge, with_password
from tests.conftest import Speaker
from tests.groups.test_programs import add, speaking

STILL = 900 * 1_944_444 + 15.0  # in seconds since the epoch: some day in 2025


@pytest.fixture(autouse=True)
def _own_counters(settings):
    """Start without the counters of earlier tests."""
    settings.CACHES = {"default": settings.CACHES["default"] | {"KEY_PREFIX": uuid.uuid4().hex}}


@pytest.fixture
def still(monkeypatch):
    """A stopped clock, 15 seconds into the windows of 1 and of 15 minutes."""
    monkeypatch.setattr("apps.http.limits.time.time", lambda: STILL)


@pytest.fixture
def limit(settings, still):
    def set_rates(**rates):
        settings.RATES = settings.RATES | rates

    return set_rates


def test_it_is_told_in_headers(cast, limit):
    # draft-ietf-httpapi-ratelimit-headers-10 sections 3 and 4: q and w in the policy, r and t in
    # the state; quoted names.
    limit(person=(3, 60), client=(2, 60))
    answer = cast.ben.get("/groups")
    assert answer["RateLimit-Policy"] == '"person";q=3;w=60, "client";q=2;w=60'
    assert answer["RateLimit"] == '"person";r=2;t=45, "client";r=1;t=45'


def test_too_many(cast, limit):
    limit(person=(2, 60))
    assert [cast.ben.get("/groups").status_code for _ in range(3)] == [200, 200, 429]
    refused = cast.ben.get("/groups")
    assert refused.json()["code"] == "too_many_requests"
    assert refused["Retry-After"] == "45"  # RFC 9110 section 10.2.3
    assert refused["RateLimit"] == '"person";r=0;t=45'
    assert cast.bea.get("/groups").status_code == 200


def test_the_next_window_starts_anew(cast, limit, monkeypatch):
    limit(person=(1, 60))
    assert [cast.ben.get("/groups").status_code for _ in range(2)] == [200, 429]
    monkeypatch.setattr("apps.http.limits.time.time", lambda: STILL + 60)
    assert cast.ben.get("/groups").status_code == 200


def test_a_refused_write_did_nothing(cast, limit):
    limit(person=(1, 60))
    cast.ben.get("/groups")
    assert cast.ben.post("/groups", {"name": "Late"}).status_code == 429
    assert cast.sten.get("/groups").json()["results"] == []
    assert not cast.group.memberships.filter(group__name="Late").exists()


def test_a_program_has_the_limit_its_organiser_set(cast, limit):
    limit(client=(100, 60))
    program = speaking(add(cast, requests_per_minute=2).json())
    answers = [program.get("/groups") for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert '"client";q=2;w=60' in answers[0]["RateLimit-Policy"]


def test_whoever_is_nobody_is_counted_by_address(db, limit, settings):
    limit(address=(1, 60))
    body = {"token": "x", "email": "a@example.org", "name": "A", "password": PASSWORD}
    one = [Speaker(None).post("/acceptances", body).status_code for _ in range(2)]
    assert one == [422, 429]
    settings.BEHIND_TLS_PROXY = True
    # The address that the proxy adds is the last; those before it may be invented.
    forwarded = [
        Speaker(None).post("/acceptances", body, X_Forwarded_For=addresses).status_code
        for addresses in ("1.1.1.1, 192.0.2.1", "2.2.2.2, 192.0.2.1", "192.0.2.2")
    ]
    assert forwarded == [422, 429, 422]


def test_no_limit_no_headers(cast, limit):
    assert "RateLimit" not in cast.ben.get("/groups").headers


def test_every_one_of_many_at_once_is_counted():
    policy = Policy("test", 1000, 3600)
    with ThreadPoolExecutor(8) as pool:
        used = sorted(count.used for count in pool.map(lambda _: hit(policy, "x"), range(400)))
    assert used == list(range(1, 401))


class DeadCache:
    def add(self, *_: object, **__: object) -> None:
        raise CacheRefuses("nobody answers")

    incr = decr = add


def test_without_the_cache_only_the_doors_are_shut(cast, ben, limit, monkeypatch):
    limit(person=(1, 60), sign_in=(9, 900), oauth_token=(9, 60))
    monkeypatch.setattr("apps.http.limits.cache", DeadCache())
    assert [cast.ben.get("/groups").status_code for _ in range(3)] == [200] * 3
    assert cast.ben.post("/groups", {"name": "Knot"}).status_code == 201
    refused = sign_in(ben)
    assert (refused.status_code, refused.json()["code"]) == (503, "unavailable")
    assert refused["Retry-After"] == "30"
    assert gauge().sign_in(ben).status_code == 503
    assert Client().post("/oauth/token", {}).status_code == 503


@pytest.fixture
def ben(cast) -> str:
    return with_password(cast.ben)


def sign_in(email, password=PASSWORD, **headers):
    return Speaker(None).post("/sessions", {"email": email, "password": password}, **headers)


def test_guesses_are_counted_and_good_passwords_are_not(ben, limit):
    limit(sign_in=(3, 900))
    assert [sign_in(ben).status_code for _ in range(5)] == [201] * 5
    assert [sign_in(ben, "guess").status_code for _ in range(4)] == [422, 422, 422, 429]
    refused = sign_in(ben)  # the good one too, or the guesser would learn that it is
    assert refused.status_code == 429
    assert re.fullmatch(r"\d+", refused["Retry-After"])


def test_a_guesser_elsewhere_does_not_lock_the_owner_out(ben, limit, settings):
    limit(sign_in=(2, 900))
    settings.BEHIND_TLS_PROXY = True
    for _ in range(5):
        sign_in(ben, "guess", X_Forwarded_For="192.0.2.66")
    assert sign_in(ben, X_Forwarded_For="192.0.2.66").status_code == 429
    assert sign_in(ben, X_Forwarded_For="192.0.2.1").status_code == 201


def test_a_guesser_beyond_the_limit_uses_up_nothing_of_the_account(ben, limit, settings):
    limit(sign_in=(2, 900), sign_in_account=(4, 900))
    settings.BEHIND_TLS_PROXY = True
    for _ in range(9):
        sign_in(ben, "guess", X_Forwarded_For="192.0.2.66")
    assert sign_in(ben, X_Forwarded_For="192.0.2.1").status_code == 201


def test_nor_do_many_accounts_from_one_address_or_one_account_from_many(ben, limit, settings):
    settings.BEHIND_TLS_PROXY = True
    limit(sign_in_address=(3, 900), sign_in_account=(4, 900))
    one_address = [
        sign_in(f"{n}@example.org", "guess", X_Forwarded_For="192.0.2.66").status_code
        for n in range(4)
    ]
    assert one_address == [422, 422, 422, 429]
    one_account = [
        sign_in(ben, "guess", X_Forwarded_For=f"192.0.2.{n}").status_code for n in range(5)
    ]
    assert one_account == [422, 422, 422, 422, 429]


def test_the_page_counts_with_the_api(ben, limit):
    limit(sign_in=(1, 900))
    sign_in(ben, "guess")
    refused = gauge().sign_in(ben)
    assert refused.status_code == 429
    assert "Too often" in refused.content.decode()


def test_a_programs_secret_is_not_tried_out_by_the_thousand(cast, limit):
    limit(oauth_token=(2, 60))
    sent = {"grant_type": "client_credentials", "client_id": "x", "client_secret": "y"}
    answers = [Client().post("/oauth/token", sent) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [401, 401, 429]
    assert answers[-1]["Retry-After"] == "45"
    assert answers[-1].json()["error"] == "temporarily_unavailable"
    assert Client().post("/oauth/revoke", sent).status_code == 429
    assert Person.objects.filter(kind="program").count() == 0
