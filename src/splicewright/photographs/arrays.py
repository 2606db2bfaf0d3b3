"""Arrays of numbers, of places in other arrays, and of yes and no."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.signedinteger[Any]]
Yes = NDArray[np.bool_]
