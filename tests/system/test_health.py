from django.db import connection
from django.db.utils import OperationalError


def test_it_lives_without_a_database(client):
    assert client.get("/health/live").json() == {"status": "alive"}


def test_it_is_ready(client, db):
    assert client.get("/health/ready").status_code == 200


def test_it_is_not_ready_without_its_database(client, db):
    def refuse(*_):
        raise OperationalError

    with connection.execute_wrapper(refuse):
        assert client.get("/health/ready").status_code == 503
