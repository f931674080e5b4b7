"""Posts where walls meet beside a cell that has none of them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tilegen.plans.drawing import Drawing


def posts_of(drawing: Drawing) -> npt.NDArray[np.uint8]:
    """Which corners of each cell carry a post of their own: bit k for corner k (NE, SE, SW, NW).

    A post stands where both of a cell's sides at a corner are open and either the other two lines that meet
    there both carry something, or one of the two sides is a saddle.
    """
    standing = drawing.stands
    saddle = np.array([kind.facts.loose for kind in drawing.kinds])
    rows, columns = drawing.rooms.shape
    across, down = np.pad(drawing.across, ((0, 0), (1, 1))), np.pad(drawing.down, ((1, 1), (0, 0)))
    posts = np.zeros((rows, columns), np.uint8)
    for corner, (south, east) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
        # The four lines that meet at the corner: two of the cell's own, two beyond it.
        own_a = across[south : south + rows, 1 : columns + 1]
        own_d = down[1 : rows + 1, east : east + columns]
        far_a = across[south : south + rows, 2 * east : 2 * east + columns]
        far_d = down[2 * south : 2 * south + rows, east : east + columns]
        free = (~standing[own_a] | saddle[own_a]) & (~standing[own_d] | saddle[own_d])
        need = (standing[far_a] & standing[far_d]) | saddle[own_a] | saddle[own_d]
        posts |= (free & need).astype(np.uint8) << corner
    posts[drawing.rooms == 0] = 0
    return posts
