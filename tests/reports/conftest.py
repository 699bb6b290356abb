from tests.appraisal.conftest import _few_draws, spring, yard  # noqa: F401
