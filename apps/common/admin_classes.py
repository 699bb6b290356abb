"""Django's admin classes with the model they show as a type argument, and those that only show.

The stubs know `ModelAdmin[Person]`; Django itself has no such thing when the code runs.
"""

from typing import TYPE_CHECKING, TypeVar

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

Shown = TypeVar("Shown", bound=Model)
Parent = TypeVar("Parent", bound=Model)

if TYPE_CHECKING:
    ModelAdmin = admin.ModelAdmin
    TabularInline = admin.TabularInline
else:

    class _Typed:
        def __class_getitem__(cls, _: object) -> type:
            return cls

    class ModelAdmin(_Typed, admin.ModelAdmin):
        pass

    class TabularInline(_Typed, admin.TabularInline):
        pass


class ReadOnly:
    """Changes go through the API, which keeps versions, revisions and the feed of changes."""

    def has_add_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


class ReadOnlyAdmin(ReadOnly, ModelAdmin[Shown]):
    """Shown, never edited."""


class ReadOnlyInline(ReadOnly, TabularInline[Shown, Parent]):
    """Shown with their parent, never edited."""
