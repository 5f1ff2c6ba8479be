"""See `fleet/models/compiled.py`."""

from fleet.models.compiled import Compiled, Fixed, compiled

__all__ = ["Compiled", "Fixed", "compiled"]
