"""FORMAT.md describes the complete content of an archive."""

from django.conf import settings

from apps.archives.kinds import KINDS
from apps.archives.packing import VERSION
from tests.archives.conftest import archive_of, unpacked

FORMAT = (settings.BASE_DIR / "apps" / "archives" / "FORMAT.md").read_text()


def test_every_kind_and_field_is_described_in_order():
    sections = dict(part.split(".jsonl\n", 1) for part in FORMAT.split("\n### ")[1:])
    assert list(sections) == ["people", *(kind.name for kind in KINDS)]
    for kind in KINDS:
        named = sections[kind.name].strip().split("\n\n")[0].replace("\n", " ").split(", ")
        assert [name.strip("` \n") for name in named] == list(kind.fields)


def test_the_manifest_is_described_field_by_field(cast):
    manifest = unpacked(archive_of(cast)).manifest
    table = FORMAT.partition("## manifest.json")[2].partition("\n\nNobody")[0]
    named = [line.split("`")[1] for line in table.splitlines() if line.startswith("| `")]
    assert named == list(manifest)
    assert f"Version {VERSION} of the format" in FORMAT
