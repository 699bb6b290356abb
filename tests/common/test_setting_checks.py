"""What a start says of missing and weak settings: one line each, and nothing of good ones."""

import subprocess
import sys

import pytest
from django.conf import settings as current

from apps.common.setting_checks import settings_check
from server.environment import with_password

GOOD = {
    "EMBEDDED": False,
    "DEBUG": False,
    "DEMO": False,
    "SECRET_KEY": "x" * 40,
    "SECRET_KEY_FALLBACKS": [],
    "REDIS_URL": "redis://:password@redis:6379/0",
    "DATABASES": {"default": {"ENGINE": "server.postgresql", "HOST": "db", "PASSWORD": "password"}},
    "PUBLIC_URL": "https://boats.example.org",
    "ALLOWED_HOSTS": ["boats.example.org"],
    "BEHIND_TLS_PROXY": True,
    "EMAIL_HOST": "mail.example.org",
    "EMAIL_USE_TLS": True,
    "EMAIL_USE_SSL": False,
}
WEAK = {
    "common.E002": {"DEBUG": True},
    "common.E003": {"DEMO": True},
    "common.E004": {
        "DATABASES": {"default": {"ENGINE": "django.db.backends.sqlite3", "PASSWORD": "x"}}
    },
    "common.W002": {"SECRET_KEY": "short"},
    "common.W003": {"REDIS_URL": "redis://redis:6379/0"},
    "common.W004": {"DATABASES": {"default": {"ENGINE": "server.postgresql", "HOST": "db"}}},
    "common.W005": {"PUBLIC_URL": "http://boats.example.org"},
    "common.W006": {"BEHIND_TLS_PROXY": False},
    "common.W007": {"EMAIL_USE_TLS": False},
    "common.W008": {"PUBLIC_URL": "https://localhost"},
    "common.W009": {"ALLOWED_HOSTS": []},
    "common.I001": {"EMAIL_HOST": ""},
}


def found(monkeypatch, **changed) -> dict[str, str]:
    for name, value in {**GOOD, **changed}.items():
        monkeypatch.setattr(current, name, value)
    return {message.id: message.msg for message in settings_check()}


def test_nothing_is_said_of_good_settings(monkeypatch):
    assert found(monkeypatch) == {}


def test_nothing_is_said_of_the_embedded_setup(monkeypatch):
    assert found(monkeypatch, EMBEDDED=True, SECRET_KEY="short", EMAIL_HOST="") == {}


@pytest.mark.parametrize(("id", "changed"), WEAK.items())
def test_each_weak_setting_is_named_in_one_line(monkeypatch, id, changed):
    said = found(monkeypatch, **changed)
    assert list(said) == [id]
    assert "\n" not in said[id]
    assert len(said[id]) < 100


def test_secrets_are_read_from_files(tmp_path):
    (tmp_path / "key").write_text("from-a-file\n")
    (tmp_path / "password").write_text("p@ss\n")
    code = "from server import settings as s; print(s.SECRET_KEY, s.REDIS_URL, "
    code += "s.DATABASES['default']['PASSWORD'], s.SECRET_KEY_FALLBACKS)"
    environment = {
        "PATH": "/usr/bin:/bin",
        "HARDSTAND_DATA_DIR": str(tmp_path),
        "SECRET_KEY_FILE": str(tmp_path / "key"),
        "SECRET_KEY_FALLBACKS": "one,two",
        "POSTGRES_PASSWORD_FILE": str(tmp_path / "password"),
        "REDIS_PASSWORD_FILE": str(tmp_path / "password"),
        "DATABASE_URL": "postgres://hardstand@db:5432/hardstand",
        "REDIS_URL": "redis://redis:6379/0",
    }
    said = subprocess.run(
        [sys.executable, "-c", code],
        cwd=current.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout == "from-a-file redis://:p%40ss@redis:6379/0 p@ss ['one', 'two']\n"


def test_a_password_in_the_address_stays():
    assert with_password("redis://:own@redis/0", "other") == "redis://:own@redis/0"
    assert with_password("", "other") == ""
