"""The cones of a problem turned to "at least", and their tangents: linear cuts."""

from dataclasses import dataclass, field
from typing import Self

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import Side
from bedstone.formulation.arrays import Compiled
from bedstone.formulation.solver import Program

__all__ = ["Cuts"]

Floats = npt.NDArray[np.float64]


@dataclass(slots=True)
class Cuts:
    """The cones of a problem turned to "at least", and which row of the program is a cut of which.

    ``coefficients`` has shape (cones, columns), ``limit``, ``z`` and ``scale`` shape (cones,).
    """

    compiled: Compiled
    coefficients: Floats
    limit: Floats
    z: Floats
    scale: Floats
    variance: Floats
    rows: list[tuple[int, int]] = field(default_factory=list)  # (row of the program, cone)

    @classmethod
    def of(cls, compiled: Compiled) -> Self:
        """The cones of a compiled problem, without cuts yet."""
        cones = compiled.cones
        sign = np.array([1.0 if cone.side is Side.MIN else -1.0 for cone in cones])
        rows = np.array([cone.row for cone in cones], dtype=np.intp)
        low, high = compiled.row_low[rows], compiled.row_high[rows]
        coefficients = sign[:, None] * compiled.matrix[rows]
        return cls(
            compiled=compiled,
            coefficients=coefficients,
            limit=np.where(sign > 0, low, -high),
            z=np.array([cone.z for cone in cones]),
            scale=np.maximum(np.abs(coefficients).max(axis=1, initial=0.0), 1e-12),
            variance=np.array([cone.spread.variance for cone in cones]),
        )

    def tangents(self, columns: Floats) -> tuple[Floats, Floats]:
        """Value of each cone's row at a point with its odds taken off, and the cut there."""
        shares = columns[: self.compiled.size]
        turned = self.variance * shares
        for index, cone in enumerate(self.compiled.cones):
            if cone.spread.both is not None:
                turned[index] = cone.spread.times(shares)
        sd = np.sqrt(np.maximum(turned @ shares, 0.0))
        slope = turned * (self.z / np.where(sd > 0, sd, 1.0))[:, None]
        tangent = self.coefficients.copy()
        tangent[:, : shares.size] -= slope
        return self.coefficients @ columns - self.z * sd, tangent

    def worth(self, row_price: Floats) -> Floats:
        """What each cone is worth: the sum over its cuts, as cost per unit of its limit, turned."""
        total = np.zeros(self.limit.size)
        for row, cone in self.rows:
            total[cone] += row_price[row]
        return total

    def add(self, program: Program, tangent: Floats, broken: npt.NDArray[np.intp]) -> None:
        """Put the cuts of the cones that are broken into a program that holds these cuts."""
        first = program.rows
        program.add_rows(tangent[broken], self.limit[broken], np.full(broken.size, np.inf))
        self.rows.extend((first + place, int(cone)) for place, cone in enumerate(broken))
