"""One step of an L-stable Rosenbrock method of order 4 with dense output, over equations that solve their own system.

Source: RODAS, E. Hairer and G. Wanner, *Solving Ordinary Differential Equations II*, 2nd edition (1996), IV.7; its
coefficients from memory, and the order tested against a solution in closed form (``tests/circuit/transient``).
"""

from __future__ import annotations

from typing import Protocol

from pdcheck.named import NamedTuple

GAMMA = 0.25
NODES = (0.0, 0.386, 0.21, 0.63, 1.0, 1.0)
SLOPES = (0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0)
A21 = 1.544000000000000
A31, A32 = 0.9466785280815826, 0.2557011698983284
A41, A42, A43 = 3.314825187068521, 2.896124015972201, 0.9986419139977817
A51, A52, A53, A54 = 1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950
C21 = -5.668800000000000
C31, C32 = -2.430093356833875, -0.2063599157091915
C41, C42, C43 = -0.1073529058151375, -9.594562251023355, -20.47028614809616
C51, C52, C53, C54 = 7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160
C61, C62, C63, C64 = 8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136
C65 = -6.058818238834054
D21, D22, D23, D24 = 10.12623508344586, -7.487995877610167, -34.80091861555747, -7.992771707568823
D31, D32, D33, D34 = -0.6762803392801253, 6.087714651680015, 16.43084320892478, 24.76722511418386
D25, D35 = 1.025137723295662, -6.594389125716872


class Equations(Protocol):
    """What a step needs: slopes, how they change with time alone, and solutions of (g - J) x = b."""

    def slopes(self, time_s: float, state: list[float]) -> list[float]:
        """dy/dt."""

    def linearize(self, time_s: float, state: list[float]) -> list[float] | None:
        """Keep the Jacobian at a point; df/dt there, None where nothing changes with time alone."""

    def factor(self, diagonal: float) -> None:
        """Make ready to solve with (``diagonal`` - J)."""

    def solve(self, right: list[float]) -> list[float]:
        """x of (diagonal - J) x = right."""


class Step(NamedTuple):
    """A step that was tried: both ends, the error's estimate, and what the dense output needs between."""

    length_s: float
    start: list[float]
    end: list[float]
    error: list[float]
    bend: list[float]
    twist: list[float]

    def at(self, share: float) -> list[float]:
        """The state at ``share`` (0 to 1) of the step, to order 3."""
        rest = 1.0 - share
        return [
            y0 * rest + share * (y1 + rest * (c3 + share * c4))
            for y0, y1, c3, c4 in zip(self.start, self.end, self.bend, self.twist, strict=True)
        ]


def take_step(
    equations: Equations, time_s: float, state: list[float], first: list[float], drift: list[float] | None, h: float
) -> Step:
    """Try a step of ``h`` [s] from ``state``, where the slopes are ``first`` and the equations are linearized.

    >>> class Decay:
    ...     def slopes(self, time_s: float, state: list[float]) -> list[float]: return [-3.0 * state[0]]
    ...     def linearize(self, time_s: float, state: list[float]) -> None: return None
    ...     def factor(self, diagonal: float) -> None: self.pivot = diagonal + 3.0
    ...     def solve(self, right: list[float]) -> list[float]: return [right[0] / self.pivot]
    >>> round(take_step(Decay(), 0.0, [1.0], [-3.0], None, 0.1).end[0], 5)  # exp(-0.3) = 0.74082
    0.74082
    """
    equations.factor(1.0 / (GAMMA * h))
    slopes, solve, y = equations.slopes, equations.solve, state
    moved = drift is not None

    def right(slope: list[float], weight: float) -> list[float]:
        if not moved or weight == 0.0 or drift is None:
            return slope
        return [f + weight * h * d for f, d in zip(slope, drift, strict=True)]

    k1 = solve(right(first, SLOPES[0]))
    w1 = C21 / h
    now = slopes(time_s + NODES[1] * h, [v + A21 * a for v, a in zip(y, k1, strict=True)])
    k2 = solve([f + w1 * a for f, a in zip(right(now, SLOPES[1]), k1, strict=True)])
    w1, w2 = C31 / h, C32 / h
    now = slopes(time_s + NODES[2] * h, [v + A31 * a + A32 * b for v, a, b in zip(y, k1, k2, strict=True)])
    k3 = solve([f + w1 * a + w2 * b for f, a, b in zip(right(now, SLOPES[2]), k1, k2, strict=True)])
    w1, w2, w3 = C41 / h, C42 / h, C43 / h
    now = slopes(
        time_s + NODES[3] * h, [v + A41 * a + A42 * b + A43 * c for v, a, b, c in zip(y, k1, k2, k3, strict=True)]
    )
    k4 = solve([f + w1 * a + w2 * b + w3 * c for f, a, b, c in zip(right(now, SLOPES[3]), k1, k2, k3, strict=True)])
    w1, w2, w3, w4 = C51 / h, C52 / h, C53 / h, C54 / h
    stage = [v + A51 * a + A52 * b + A53 * c + A54 * d for v, a, b, c, d in zip(y, k1, k2, k3, k4, strict=True)]
    now = slopes(time_s + h, stage)
    k5 = solve([f + w1 * a + w2 * b + w3 * c + w4 * d for f, a, b, c, d in zip(now, k1, k2, k3, k4, strict=True)])
    w1, w2, w3, w4, w5 = C61 / h, C62 / h, C63 / h, C64 / h, C65 / h
    stage = [v + e for v, e in zip(stage, k5, strict=True)]
    now = slopes(time_s + h, stage)
    k6 = solve(
        [
            f + w1 * a + w2 * b + w3 * c + w4 * d + w5 * e
            for f, a, b, c, d, e in zip(now, k1, k2, k3, k4, k5, strict=True)
        ]
    )
    end = [v + e for v, e in zip(stage, k6, strict=True)]
    bend, twist = [], []
    for a, b, c, d, e in zip(k1, k2, k3, k4, k5, strict=True):
        bend.append(D21 * a + D22 * b + D23 * c + D24 * d + D25 * e)
        twist.append(D31 * a + D32 * b + D33 * c + D34 * d + D35 * e)
    return Step(h, y, end, k6, bend, twist)
