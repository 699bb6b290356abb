"""Makes a group with many findings and its archive, as a separate program.

python -m tests.system.import_world ARCHIVE prints the ids of the archive's organiser and group.
"""

import sys
from pathlib import Path

import django


def main(archive: Path) -> None:
    django.setup()
    from django.utils import timezone

    from apps.accounts.models import Person
    from apps.archives.collecting import group_collect
    from apps.archives.packing import archive_write
    from apps.groups.models import Group, Membership
    from tests.appraisal.building import Yard, fill

    people = [
        Person.objects.create_user(f"{name.lower()}@example.org", name=name)
        for name in ("Ola", "Ben", "Bea", "Hal")
    ]
    group = Group.objects.create(name="Tern")
    for person in people:
        Membership.objects.create(group=group, person=person, role="organiser")
    fill(Yard.of(group, people[0]), people, 80)
    with archive.open("wb") as out:
        archive_write(group_collect(group, None), out, timezone.now())
    print(people[0].email, group.pk)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
