from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.common.models import Versioned


class Gate(Versioned):
    """What the group says of one thing to clear up before it buys a boat; see `kinds`.

    needed: whether she may only be bought once it is settled.
    """

    candidate = models.ForeignKey("boats.Candidate", on_delete=models.CASCADE, related_name="gates")
    code = models.SlugField(max_length=20)
    needed = models.BooleanField(default=True)
    settled = models.BooleanField(default=False)
    checked_by = models.CharField(max_length=120, blank=True, help_text="who checks it")
    due_on = models.DateField(null=True, blank=True)
    document = models.CharField(max_length=300, blank=True, help_text="what shows it")
    note = models.CharField(max_length=1000, blank=True)
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="gates_changed"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=("candidate", "code"), name="gate_once_for_each_boat"),
            models.CheckConstraint(
                condition=Q(settled=False) | ~Q(checked_by=""), name="settled_gate_says_by_whom"
            ),
        ]

    def __str__(self) -> str:
        return self.code
