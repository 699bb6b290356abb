"""Safety texts of the shipped catalogue, so that nobody is hurt by following it.

The cautions are common practice; where there is a source, their file names it. These tests check
what they must contain.
"""

import pytest
from django.conf import settings

from tests.catalogue.real import REAL as CATALOGUE

CAUTIONS = CATALOGUE.cautions
CHECKPOINTS = CATALOGUE.checkpoints

# What is looked at from outside while she stands ashore, close to the stands or the keel.
BY_THE_STANDS = (
    "keel-joint-line",
    "keel-movement",
    "twin-keel-roots",
    "lead-keel-dents",
    "enclosed-ballast",
    "propeller-blades",
    "folding-propeller-play",
    "shaft-bearing",
    "shaft-surface",
    "shaft-strut",
    "saildrive-leg",
    "anodes",
    "blister-crowding",
    "blister-depth",
    "blows-and-patches",
    "bottom-paint",
    "iron-keel-rust",
    "rudder-blade",
    "rudder-play",
    "skeg-and-hinges",
    "steel-plating",
    "aluminium-plating",
    "wood-planking",
    "ferrocement-skin",
)
# Where somebody throws a switch, starts something or puts a current through it.
SWITCHES = (
    "bilge-pumps",
    "panel-and-lights",
    "windlass",
    "fresh-water",
    "petrol-ventilation",
    "cold-start",
    "full-throttle-run",
)


def test_lack_of_oxygen_gives_no_warning_and_nobody_follows_who_collapsed():
    text = CAUTIONS["closed-spaces"].text
    for said in ("gives no warning", "never follow", "call the emergency number"):
        assert said in text
    assert "headache" not in text, "as if there were a sign to wait for"


@pytest.mark.parametrize("code", BY_THE_STANDS)
def test_what_is_near_the_stands_is_looked_at_from_outside_them(code):
    checkpoint = CHECKPOINTS[code]
    assert "outside the stands" in checkpoint.look
    assert "stands" in checkpoint.cautions


@pytest.mark.parametrize("code", ["keel-joint-line", "twin-keel-roots", "shaft-bearing",
                                  "propeller-blades"])  # fmt: skip
def test_what_cannot_be_seen_from_there_could_not_be_looked_at(code):
    assert "'could not look'" in CHECKPOINTS[code].look


def test_nobody_goes_under_her():
    text = CAUTIONS["stands"].text
    for said in ("Nobody goes under the hull", "not even with an arm", "'could not look'"):
        assert said in text
    assert "between the keels" in CHECKPOINTS["twin-keel-roots"].look


def test_a_boat_in_slings_is_left_to_the_yard():
    text = CAUTIONS["lifting"].text
    for said in ("Never stand near her or under her", "forklifts", "slings"):
        assert said in text
    assert "lifting" in CHECKPOINTS["keel-movement"].cautions


def test_nobody_works_a_lifting_keels_hoist_ashore():
    text = CAUTIONS["lifting-keels"].text
    assert "Ashore nobody works the hoist" in text
    assert "pins in" not in text, "a hoist cannot be worked with the pins in"
    gear = CHECKPOINTS["lifting-keel-gear"]
    assert "Ashore nobody works it" in gear.look
    assert "lifting-keels" in gear.cautions


@pytest.mark.parametrize("code", SWITCHES)
def test_gas_and_petrol_come_before_any_switch(code):
    assert "gas-petrol-co" in CHECKPOINTS[code].cautions
    assert "before any switch is touched" in CAUTIONS["gas-petrol-co"].text


def test_no_oily_water_is_pumped():
    look = CHECKPOINTS["bilge-pumps"].look
    assert look.index("Nose first") < look.index("oily") < look.index("float")
    assert "pump none of it" in look


def test_the_helm_of_a_boat_ashore():
    run = CHECKPOINTS["steering-run"]
    assert "stands" in run.cautions
    assert "nobody stands by the rudder" in run.look


def test_an_engine_ashore_is_never_put_in_gear():
    assert "Ashore it is never put in gear" in CHECKPOINTS["cold-start"].look
    assert "Ashore it is never put in gear" in CAUTIONS["engine-shaft"].text
    assert {"engine-shaft", "stands"} <= set(CHECKPOINTS["cold-start"].cautions)


def test_asbestos_is_left_alone():
    text = CAUTIONS["asbestos"].text
    for said in ("lagging", "gaskets", "boards"):
        assert said in text
    for code in ("engine-face", "exhaust-run", "stove-and-alarms"):
        assert "asbestos" in CHECKPOINTS[code].cautions


def test_no_level_asks_for_harm():
    """Whoever reads what a level looks like must not break, tear or shift anything to see it."""
    asks = (
        "light tap",
        "to the touch",
        "weight shifts",
        "under a hand",
        "between two hands",
        "by hand.",
        "to a push",
    )
    for checkpoint in CHECKPOINTS.values():
        told = " ".join(checkpoint.levels)
        assert not [words for words in asks if words in told], checkpoint.code


@pytest.mark.parametrize("code", ["wood-planking", "chainplates-below", "bulkheads", "mast-heel"])
def test_wood_is_pressed_with_a_thumb_and_with_leave(code):
    checkpoint = CHECKPOINTS[code]
    assert "with leave" in checkpoint.look.lower()
    assert "thumb" in checkpoint.look
    assert "consent" in checkpoint.cautions
    assert "plastic probe" not in checkpoint.tools


def test_what_only_a_sea_trial_shows_is_looked_at_under_way_with_its_caution():
    under_way = [one for one in CHECKPOINTS.values() if "not_under_way" in one.prevented_by]
    assert len(under_way) == 9
    for checkpoint in under_way:
        assert "under-way" in checkpoint.cautions, checkpoint.code
    assert [one for one in CHECKPOINTS.values() if one.place == "under_way"] == under_way
    assert "No hand on wire or line that carries load" in CHECKPOINTS["rig-under-load"].look
    assert "Nobody hangs over the stern" in CHECKPOINTS["exhaust-under-way"].look


def test_every_caution_is_told_somewhere():
    told = {code for checkpoint in CHECKPOINTS.values() for code in checkpoint.cautions}
    assert told == set(CAUTIONS)


def test_in_the_demo_nobody_pushes_anything_into_wood():
    for boat in (settings.BASE_DIR / "fixtures" / "demo" / "boats").glob("*.toml"):
        text = boat.read_text(encoding="utf-8").lower()
        for tool in ("takes a key", "sticks a key", "spike", "screwdriver", "knife", "probe"):
            assert tool not in text, boat.name
