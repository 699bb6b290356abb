"""The statistics as a club's members read them: data, pictures, a page."""

import re
import xml.etree.ElementTree as ET
from datetime import timedelta
from html.parser import HTMLParser

import pytest
from django.utils import timezone

from apps.boats.yards.models import Yard
from apps.outcomes import selectors
from apps.outcomes.models import OutcomesFigure
from tests.conftest import Speaker, pointers, speaker
from tests.outcomes.building import CODE, REMEDY, Harbour, buyers
from tests.outcomes.test_sums import estimate


@pytest.fixture
def disclosed(harbour) -> Harbour:
    """All figures, for two kinds of keels."""
    for group in harbour.groups:
        for keel in ("bolted_fin", "full"):
            group.surveyed(3 if keel == "full" else 0, looks=(3,), keel=keel)
            boat = group.boat()
            group.billed(boat, 1.5 * estimate(harbour, boat))
    harbour.experience()
    return harbour


def one(answer: dict, code: str = CODE) -> dict:
    return next(one for one in answer["checkpoints"] if one["checkpoint"] == code)


def test_it_works(disclosed):
    answer = disclosed.sally.get(disclosed.path)
    assert answer.status_code == 200, answer.content
    said = answer.json()
    assert said["club"] == {"id": str(disclosed.club.pk), "name": "Harbour"}
    assert said["computed_at"]
    assert said["method"] == "1"
    assert "not a survey" in said["caution"]
    assert said["boats_shown"] == {"by": "", "value": "", "words": "all boats"}
    found = one(said)["found"]
    assert (found["figure"], found["groups"], found["boats"]) == (0.5, 5, 10)
    assert found["low"] < 0.5 < found["high"]
    assert found["expected"] < 0.3
    assert one(said)["caught"]["figure"] == 1.0
    assert one(said)["cleared"]["figure"] == 0.0
    assert one(said)["judged_by"] == "surveyor"
    divided = {(d["by"], d["value"]): d for d in one(said)["divided"]}
    assert divided["keel", "full"]["found"]["figure"] == 1.0
    assert divided["keel", "full"]["words"] == "full length"
    assert divided["keel", "bolted_fin"]["caught"] is None
    assert ("age", "30_to_44") in divided
    (remedy,) = said["remedies"]
    assert (remedy["remedy"], remedy["cost"]["figure"]) == (REMEDY, 1.5)
    (area,) = said["areas"]
    assert (area["area"], area["looks"], area["share"]) == ("deck", 10, 0.5)
    assert len(said["sentences"]) == 3


def test_whoever_is_not_of_the_club_sees_no_outcomes(disclosed):
    stranger = speaker("Sten")
    elsewhere = buyers("Kiwi", None)
    for path in (disclosed.path, f"{disclosed.path}.html", f"{disclosed.path}.svg"):
        for who in (stranger, elsewhere.organiser):
            assert who.get(path).status_code == 404
        assert Speaker(None).get(path).status_code == 401
    assert (
        stranger.get("/clubs/01890a5d-ac96-774b-bcce-b302099a8057/club_outcomes").status_code == 404
    )


def test_who_left_the_club_sees_it_no_more(disclosed):
    disclosed.club.memberships.filter(person=disclosed.sally.person).update(
        ended_at="2025-01-01T00:00Z"
    )
    assert disclosed.sally.get(disclosed.path).status_code == 404


def test_a_token_needs_the_scope(disclosed):
    until = timezone.now() + timedelta(days=1)
    made = disclosed.sally.post(
        "/tokens", {"name": "Script", "scopes": ["lists:read"], "expires_at": until}
    )
    assert made.status_code == 201, made.content
    limited = Speaker(disclosed.sally.person, made.json()["token"])
    refused = limited.get(disclosed.path)
    assert (refused.status_code, refused.json()["scope"]) == (403, "results:read")


def test_boats_of_one_kind(disclosed):
    said = disclosed.sally.get(f"{disclosed.path}?keel=full").json()
    assert said["boats_shown"] == {"by": "keel", "value": "full", "words": "full length"}
    assert one(said)["found"]["boats"] == 5
    assert "divided" not in one(said)
    assert disclosed.sally.get(f"{disclosed.path}?hull_material=steel").json()["checkpoints"] == []
    assert one(disclosed.sally.get(f"{disclosed.path}?age=30_to_44").json())["found"]["boats"] == 10


def test_one_area_or_checkpoint(disclosed):
    for query in ("area=deck", f"checkpoint={CODE}"):
        assert one(disclosed.sally.get(f"{disclosed.path}?{query}").json())["found"]["boats"] == 10
    assert disclosed.sally.get(f"{disclosed.path}?area=rig").json()["checkpoints"] == []
    assert disclosed.sally.get(f"{disclosed.path}?checkpoint={CODE}").json()["remedies"] == []
    assert disclosed.sally.get(f"{disclosed.path}?checkpoint=nothing").json()["checkpoints"] == []


@pytest.mark.parametrize(
    ("query", "at"),
    [
        ("keel=wooden", "?keel"),
        ("age=7", "?age"),
        ("keel=full&age=30_to_44", "?age"),
        ("hull_material=grp&keel=full&rudder=spade", None),
        ("area=a b", "?area"),
        ("boat=1", "?boat"),
    ],
)
def test_what_cannot_be_asked(disclosed, query, at):
    refused = disclosed.sally.get(f"{disclosed.path}?{query}")
    assert pointers(refused) == ({"?keel", "?rudder"} if at is None else {at})


def test_before_anything_was_worked_out(harbour):
    said = harbour.sally.get(harbour.path).json()
    assert (said["computed_at"], said["checkpoints"], said["remedies"]) == (None, [], [])
    assert "not a survey" in said["caution"]
    page = harbour.sally.get(f"{harbour.path}.html")
    assert "no figures to show yet" in page.content.decode()


def test_asked_again_it_has_not_changed(disclosed):
    first = disclosed.sally.get(disclosed.path)
    again = disclosed.sally.get(disclosed.path, If_None_Match=first["ETag"])
    assert again.status_code == 304
    OutcomesFigure.objects.all().delete()
    assert disclosed.sally.get(disclosed.path, If_None_Match=first["ETag"]).status_code == 200


def test_queries_do_not_depend_on_how_much_there_is(disclosed, django_assert_num_queries):
    def read() -> dict:
        return selectors.outcomes_read(disclosed.sally.person, disclosed.club.pk)

    read()  # the catalogue's first reader
    with django_assert_num_queries(5):  # membership, memory, base, club's own, figures
        few = read()
    for group in disclosed.groups:
        group.surveyed(2, code="engine-oil", looks=(1,))
        group.surveyed(4, code="rudder-blade", looks=(1,))
    disclosed.experience()
    with django_assert_num_queries(5):
        assert len(read()["checkpoints"]) == len(few["checkpoints"]) + 2


def test_nothing_of_what_it_rests_on_is_in_any_answer(disclosed):
    secrets = [str(group.group.pk) for group in disclosed.groups]
    secrets += [word.word for word in disclosed.groups]
    secrets += [str(b.pk) for g in disclosed.groups for b in g.yard.list.candidates.all()]
    for path in (disclosed.path, f"{disclosed.path}.html", f"{disclosed.path}.svg"):
        content = disclosed.sally.get(path).content.decode()
        assert not [one for one in secrets if one in content]


# --- Pictures and the page -----------------------------------------------------------------------


@pytest.mark.parametrize("picture", ["found", "disclosed", "cost"])
def test_pictures_are_drawn(disclosed, picture):
    answer = disclosed.sally.get(f"{disclosed.path}.svg?picture={picture}")
    assert answer["Content-Type"].startswith("image/svg+xml")
    drawn = ET.fromstring(answer.content)
    text = "".join(drawn.itertext())
    title = {"found": "Cracks", "disclosed": "Cracks", "cost": "ulkhead"}[picture]
    assert title.lower()[:5] in text.lower()
    assert "not a survey" in text
    assert disclosed.sally.get(f"{disclosed.path}.svg?picture={picture}").content == answer.content


def test_another_picture_is_refused(disclosed):
    assert pointers(disclosed.sally.get(f"{disclosed.path}.svg?picture=pie")) == {"?picture"}


class Outline(HTMLParser):
    """A page's language, the number of each element, and the labels of its pictures."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.count: dict[str, int] = {}
        self.labels: list[str] = []
        self.language = ""
        self.heads: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        disclosed = dict(attributes)
        self.count[tag] = self.count.get(tag, 0) + 1
        if disclosed.get("role") == "img":
            self.labels.append(disclosed.get("aria-label", ""))
        if tag == "html":
            self.language = disclosed["lang"]
        if tag == "th":
            self.heads.append(disclosed.get("scope", ""))


def test_the_page_can_be_read_by_everybody(disclosed):
    answer = disclosed.sally.get(f"{disclosed.path}.html")
    assert answer["Content-Type"].startswith("text/html")
    content = answer.content.decode()
    page = Outline(content)
    assert page.language == "en"
    assert page.count["figure"] == page.count["figcaption"] == len(page.labels) == 3
    assert all("boats of 5 groups" in label or "seen on" in label for label in page.labels)
    assert page.count["table"] == page.count["caption"] == 3
    assert set(page.heads) == {"col", "row"}
    assert page.count["h1"] == page.count["main"] == 1
    assert "not a survey" in content
    assert "keel: full length" in content
    assert not [mark for mark in ("{{", "{%") if mark in content]


def test_figures_name_their_column_where_a_telephone_shows_no_heads(disclosed):
    """There a row becomes a card (common/narrow_tables.css)."""
    content = disclosed.sally.get(f"{disclosed.path}.html").content.decode()
    assert '<td class="figure" data-column="Defective or worse">' in content
    assert '<td class="figure">' not in content


def test_the_page_goes_by_the_clock_of_the_clubs_yard(disclosed):
    assert " UTC." in disclosed.sally.get(f"{disclosed.path}.html").content.decode()
    Yard.objects.create(
        club=disclosed.club, name="Quay", latitude=44, longitude=-69, time_zone="America/New_York"
    )
    content = disclosed.sally.get(f"{disclosed.path}.html").content.decode()
    assert " UTC." not in content
    assert re.search(r"Worked out [^<]* E[SD]T\.", content)


def test_the_page_of_one_kind_says_so(disclosed):
    content = disclosed.sally.get(f"{disclosed.path}.html?keel=full").content.decode()
    assert "Only boats with keel: full length." in content


def test_names_cannot_carry_markup_into_the_page(disclosed):
    disclosed.club.name = "<script>alert(1)</script>"
    disclosed.club.save()
    content = disclosed.sally.get(f"{disclosed.path}.html").content.decode()
    assert "<script>" not in content
