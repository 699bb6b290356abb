"""Django's admin classes with a type argument for the model, and read-only ones.

The stubs have `ModelAdmin[Person]`, but Django at runtime does not.
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
    """Read-only: changes need the API, which keeps versions, revisions and the change feed."""

    def has_add_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


class ReadOnlyAdmin(ReadOnly, ModelAdmin[Shown]):
    """A read-only admin."""


class ReadOnlyInline(ReadOnly, TabularInline[Shown, Parent]):
    """Read-only rows shown with their parent."""
