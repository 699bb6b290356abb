"""A list with two boats that were looked at, and its results."""

from tests.appraisal.conftest import _few_draws, spring, yard  # noqa: F401
