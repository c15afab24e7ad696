"""Names of the arrays that the package passes about."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]  # numbers
Index = NDArray[np.intp]  # places in another array
Mask = NDArray[np.bool_]  # which elements
