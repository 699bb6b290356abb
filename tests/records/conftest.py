from tests.catalogue.conftest import files  # noqa: F401
from tests.system.conftest import worlds  # noqa: F401
from tests.viewings.conftest import scene  # noqa: F401
