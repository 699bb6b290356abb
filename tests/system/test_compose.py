"""docker-compose.yml: what must hold for each container. No container is started here."""

import re
from typing import Any

import pytest
import yaml
from django.conf import settings

from tests.system.test_habits import FOR_COMPOSE, example

COMPOSE: dict[str, Any] = yaml.safe_load((settings.BASE_DIR / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = {name for name, service in SERVICES.items() if service["image"] == "hardstand"}
# Rights that an image's own start needs, to hand a folder or a low port to another user.
MORE_RIGHTS = {
    "db": {"CHOWN", "DAC_OVERRIDE", "FOWNER", "SETGID", "SETUID"},
    "proxy": {"NET_BIND_SERVICE"},
}
# Fixed in a container, or never meant for a served installation.
NOT_PASSED = {"HARDSTAND_DATA_DIR", "DEMO", "DEBUG"}


@pytest.mark.parametrize("name", SERVICES)
def test_a_container_is_confined(name):
    service = SERVICES[name]
    assert service["read_only"] is True
    assert "/tmp" in service["tmpfs"]
    assert service["cap_drop"] == ["ALL"]
    assert set(service.get("cap_add", ())) == MORE_RIGHTS.get(name, set())
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert "privileged" not in service


@pytest.mark.parametrize("name", SERVICES)
def test_a_container_has_limits_and_an_end(name):
    service = SERVICES[name]
    assert re.fullmatch(r"\d+[mg]", service["mem_limit"])
    assert service["cpus"] > 0
    assert service["pids_limit"] > 0
    assert re.fullmatch(r"\d+s", service["stop_grace_period"])
    assert service["logging"]["options"].keys() == {"max-size", "max-file"}


def test_secrets_come_from_files_alone():
    for name, service in SERVICES.items():
        for key, value in (service.get("environment") or {}).items():
            if re.search(r"PASSWORD|SECRET", key):
                assert value.startswith("/run/secrets/"), (name, key)
                assert value.removeprefix("/run/secrets/") in service["secrets"]
    made = (settings.BASE_DIR / "server/run").read_text().partition("    secrets)")[2]
    made = made.partition(";;")[0]
    assert all(re.search(rf"\b{name}\b", made) for name in COMPOSE["secrets"])
    assert "requirepass" in str(SERVICES["redis"]["command"])


@pytest.mark.parametrize("name", sorted(OURS))
def test_every_setting_is_passed(name):
    passed = {key.removesuffix("_FILE") for key in SERVICES[name]["environment"]}
    assert passed == example().keys() - FOR_COMPOSE - NOT_PASSED


def test_only_the_proxy_is_reached_from_outside():
    ports = {name: service["ports"] for name, service in SERVICES.items() if "ports" in service}
    assert ports.keys() == {"web", "proxy"}
    assert ports["web"] == ["${PORT:-127.0.0.1:8000}:8000"]
    assert SERVICES["proxy"]["profiles"] == ["tls"]


def test_the_tools_in_the_image_are_of_the_databases_version():
    version = re.fullmatch(r"postgres:(\d+)-trixie", SERVICES["db"]["image"])[1]
    image = (settings.BASE_DIR / "server/Containerfile").read_text()
    assert f"ARG POSTGRES={version}\n" in image


def test_the_image_gets_only_what_it_copies():
    ignored = (settings.BASE_DIR / ".dockerignore").read_text().splitlines()
    assert ignored[1] == "*"
    image = (settings.BASE_DIR / "server/Containerfile").read_text()
    copied = {
        word.partition("/")[0]
        for line in re.findall(r"^COPY (?!--from)(.*) \S+$", image, re.MULTILINE)
        for word in line.split()
    }
    assert {line.removeprefix("!") for line in ignored if line.startswith("!")} == copied
