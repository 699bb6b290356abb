"""The real catalogue and a list with boats, as in the tests of results."""

from tests.appraisal.conftest import _few_draws, yard  # noqa: F401
