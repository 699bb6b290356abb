"""Columns of queries, composed without what only other expressions need.

Of the time in which Django composes a query most goes to columns: a record with all that it refers
to has more than a hundred.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django.db.models.expressions import Col

if TYPE_CHECKING:
    from django.db.models.sql.compiler import SQLCompiler as Base
else:
    Base = object


class QuickColumns(Base):
    def compile(self, node: Any) -> Any:
        if type(node) is Col and node.alias:
            quoted: Callable[[Any], str] = self.quote_name_unless_alias
            return f"{quoted(node.alias)}.{quoted(node.target.column)}", []
        return super().compile(node)
