"""Three-dimensional transient conduction in an insulated box, by finite elements.

For: an outside check of the lumped network in ``shipwindow.box``. It resolves foam, edges, corners, the block of
water, the fill and the pack in space, on a general finite-element library (scikit-fem), and shares no line of code
and no conductance formula with the network.
Must not know: the network, the shop, the weather, any other part of ``shipwindow``.
Neighbours: ``network_against_3d.py`` runs the cases and writes the tables of the page beside it;
``tests/reference/test_three_d_conduction.py`` holds this model to exact solutions.

How it works. The box is a list of axis-aligned bricks painted one over the other into a grid whose lines run through
every brick face. Trilinear hexahedra, lumped (nodal) heat capacity, films on the outer faces as a Robin condition.
Films and contacts inside the box are thin bricks with the same resistance. Time runs by the two-stage, second-order,
L-stable diagonally implicit scheme of Alexander [1]_, so one factorisation of a banded matrix serves all steps.
Melting is the enthalpy method [2]_ in its exact form: each node of a pack holds latent heat q with 0 <= q <= L and
stays at the melting point in between; the set of melting nodes is found by an active-set iteration at every stage.

.. [1] R. Alexander, "Diagonally implicit Runge-Kutta methods for stiff O.D.E.'s", SIAM J. Numer. Anal. 14 (1977)
   1006-1021, the two-stage method. Status: memory.
.. [2] V. Voller, M. Cross, "Accurate solutions of moving boundary problems using the enthalpy method",
   Int. J. Heat Mass Transfer 24 (1981) 545-556. Status: memory.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np
import skfem  # type: ignore[import-untyped,unused-ignore]
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.sparse import csc_array, csr_array, tril
from skfem.helpers import dot, grad  # type: ignore[import-untyped,unused-ignore]

Array = NDArray[np.float64]
Point = tuple[float, float, float]

GAMMA = 1.0 - np.sqrt(0.5)
FACES = {"x0": (0, 0), "x1": (0, 1), "y0": (1, 0), "y1": (1, 1), "z0": (2, 0), "z1": (2, 1)}


@dataclass(frozen=True)
class Brick:
    """A block of one material between two opposite corners; later bricks paint over earlier ones.

    ``latent_J_m3`` is taken up at 0 degC; ``liquid_extra_J_m3K`` is what the melt holds more, per kelvin, than the
    solid (>= 0).
    """

    low_m: Point
    high_m: Point
    conductivity_W_mK: float
    capacity_J_m3K: float
    tag: str = ""
    source_W_m3: float = 0.0
    latent_J_m3: float = 0.0
    liquid_extra_J_m3K: float = 0.0


@dataclass(frozen=True)
class Mesh3D:
    """The assembled problem: C dT/dt + dq/dt = source + film (air - T) - K T, node by node."""

    points_m: Array  # (N, 3)
    stiffness_W_K: csr_array  # (N, N) conduction only; its rows sum to zero
    film_W_K: csr_array  # (N, N) films on the outer faces
    capacity_J_K: Array  # (N,)
    source_W: Array  # (N,)
    latent_J: Array  # (N,)
    liquid_extra_J_K: Array  # (N,)
    volumes_m3: dict[str, Array]  # tag -> (N,) share of each node in the tagged bricks

    def mean_C(self, temperature_C: Array, prefix: str) -> Array:
        """Volume mean over all bricks whose tag starts with ``prefix``."""
        weight_m3 = np.sum([v for tag, v in self.volumes_m3.items() if tag.startswith(prefix)], axis=0)
        return np.asarray(temperature_C @ weight_m3 / weight_m3.sum())

    def nodes(self, prefix: str) -> NDArray[np.bool_]:
        """Nodes in or on the bricks whose tag starts with ``prefix``."""
        return np.asarray(np.sum([v for tag, v in self.volumes_m3.items() if tag.startswith(prefix)], axis=0) > 0.0)


@dataclass
class History:
    """A run: states at the step edges and the heat ledger."""

    t_s: Array
    temperature_C: Array  # (T + 1, N)
    latent_J: Array  # (T + 1, N)
    stored_J: float  # heat stored at the end less heat stored at the start
    entered_J: float  # through the outer films and from sources, summed from the stage fluxes
    melted_frac: Array = field(default_factory=lambda: np.zeros(0))  # (T + 1,)

    def at(self, hour: float) -> Array:
        """Temperatures at a whole step edge."""
        return np.asarray(self.temperature_C[int(np.argmin(np.abs(self.t_s - 3600.0 * hour)))])


def grid_lines(bricks: list[Brick], axis: int, cell_m: float, level: int) -> Array:
    """Grid lines through every brick face, cells up to ``cell_m``, each split ``level`` times."""
    edges = np.unique(np.round([c for b in bricks for c in (b.low_m[axis], b.high_m[axis])], 9))
    lines = [edges[:1]]
    for a, b in itertools.pairwise(edges):
        count = level * max(1, int(np.ceil((b - a) / cell_m - 1e-9)))
        lines.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(lines)


def assemble(bricks: list[Brick], films_W_m2K: dict[str, float], cell_m: float, level: int = 1) -> Mesh3D:
    """Assemble the finite-element matrices; faces without a film are adiabatic or planes of symmetry."""
    lines = [grid_lines(bricks, axis, cell_m, level) for axis in range(3)]
    mesh = skfem.MeshHex.init_tensor(*lines)
    basis = skfem.Basis(mesh, skfem.ElementHex1(), intorder=2)
    cells = basis.with_element(skfem.ElementHex0())
    middle_m = mesh.p[:, mesh.t].mean(axis=1)
    owner = np.full(middle_m.shape[1], -1)
    for number, brick in enumerate(bricks):
        low, high = np.array(brick.low_m)[:, None], np.array(brick.high_m)[:, None]
        owner[np.all((middle_m > low) & (middle_m < high), axis=0)] = number
    if np.any(owner < 0):
        raise ValueError(
            "read a grid cell in no brick; expected bricks that fill the box; start with one that spans it"
        )

    def per_cell(name: str) -> Array:
        return np.array([getattr(b, name) for b in bricks], dtype=float)[owner]

    volume_form = skfem.LinearForm(lambda v, w: w.value * v)

    def lumped(value: Array) -> Array:
        return np.asarray(volume_form.assemble(basis, value=cells.interpolate(value)))

    conduction = skfem.BilinearForm(lambda u, v, w: w.k * dot(grad(u), grad(v)))
    stiffness = conduction.assemble(basis, k=cells.interpolate(per_cell("conductivity_W_mK")))
    film = csr_array(stiffness.shape)
    mass = skfem.BilinearForm(lambda u, v, _: u * v)
    for name, film_W_m2K in films_W_m2K.items():
        axis, side = FACES[name]
        where = lines[axis][-1] if side else lines[axis][0]
        facets = mesh.facets_satisfying(lambda p, a=axis, c=where: np.abs(p[a] - c) < 1e-9, boundaries_only=True)
        film = film + film_W_m2K * mass.assemble(skfem.FacetBasis(mesh, skfem.ElementHex1(), facets=facets, intorder=2))
    # Longest axis outermost: the narrowest band for the Cholesky factor.
    order = np.lexsort([mesh.p[axis] for axis in np.argsort([len(line) for line in lines])])
    tags = np.array([b.tag for b in bricks])[owner]
    return Mesh3D(
        points_m=np.ascontiguousarray(mesh.p.T[order]),
        stiffness_W_K=csr_array(stiffness)[order][:, order],
        film_W_K=csr_array(film)[order][:, order],
        capacity_J_K=lumped(per_cell("capacity_J_m3K"))[order],
        source_W=lumped(per_cell("source_W_m3"))[order],
        latent_J=lumped(per_cell("latent_J_m3"))[order],
        liquid_extra_J_K=lumped(per_cell("liquid_extra_J_m3K"))[order],
        volumes_m3={str(tag): lumped((tags == tag).astype(float))[order] for tag in np.unique(tags) if tag},
    )


def factor(matrix: csr_array) -> Array:
    """Banded Cholesky factor of a symmetric positive definite matrix."""
    lower = tril(csc_array(matrix)).tocoo()
    band = np.zeros((int((lower.row - lower.col).max()) + 1, matrix.shape[0]), order="F")
    band[lower.row - lower.col, lower.col] = lower.data
    return np.asarray(cholesky_banded(band, overwrite_ab=True, lower=True, check_finite=False))


def steady(mesh: Mesh3D, air_C: float) -> Array:
    """Steady temperatures with the sources on (no melting)."""
    load = mesh.source_W + mesh.film_W_K @ np.full(len(mesh.source_W), air_C)
    return np.asarray(cho_solve_banded((factor(mesh.stiffness_W_K + mesh.film_W_K), True), load))


def _melt(free_C: Array, gain_K_J: Array, latent_J: Array, extra_J_K: Array, guess_J: Array) -> tuple[Array, Array]:
    """Solve T = free - gain q with q = 0 below 0 degC, 0 <= q <= L at 0, q = L + extra T above; return (T, q)."""
    n = len(free_C)
    state = np.where(guess_J <= 0.0, 0, np.where(guess_J < latent_J, 1, 2))  # solid, melting, liquid
    for _ in range(200):
        slope = np.where(state == 2, extra_J_K, 0.0)
        offset = np.where(state == 2, latent_J, 0.0)
        # Solid and liquid nodes: T unknown, q = offset + slope T. Melting nodes: T = 0, q unknown.
        melting = state == 1
        matrix = np.where(melting[None, :], gain_K_J, gain_K_J * slope[None, :] + np.eye(n))
        answer = np.linalg.solve(matrix, free_C - gain_K_J @ offset)
        temperature_C = np.where(melting, 0.0, answer)
        q_J = np.where(melting, answer, offset + slope * answer)
        slack_K, slack_J = 1e-10, 1e-10 * latent_J
        now = state.copy()
        now[(state == 0) & (temperature_C > slack_K)] = 1
        now[(state == 2) & (temperature_C < -slack_K)] = 1
        now[melting & (q_J < -slack_J)] = 0
        now[melting & (q_J > latent_J + slack_J)] = 2
        if np.array_equal(now, state):
            return temperature_C, q_J
        state = now
    raise ArithmeticError("read 200 active-set rounds without rest; expected a handful; use a shorter time step")


def march(mesh: Mesh3D, start_C: Array, air_C: float, hours: float, step_s: float) -> History:
    """Run from ``start_C`` in air of one temperature; nodes of a pack start solid if at or below 0 degC."""
    steps = round(hours * 3600.0 / step_s)
    operator = mesh.stiffness_W_K + mesh.film_W_K
    capacity = mesh.capacity_J_K
    theta_s = GAMMA * step_s
    band = factor(csr_array(operator * theta_s + csr_array(_diagonal(capacity))))
    load_W = mesh.source_W + mesh.film_W_K @ np.full(len(capacity), air_C)
    film_sum_W_K = mesh.film_W_K @ np.ones(len(capacity))

    pack = np.flatnonzero(mesh.latent_J > 0.0)
    spread = np.zeros((len(capacity), len(pack)))
    spread[pack, np.arange(len(pack))] = 1.0
    reach_K_J = cho_solve_banded((band, True), spread) if len(pack) else spread
    latent_J, extra_J_K = mesh.latent_J[pack], mesh.liquid_extra_J_K[pack]

    temperature_C = np.array(start_C, dtype=float)
    q_J = np.where(temperature_C[pack] > 0.0, latent_J + extra_J_K * temperature_C[pack], 0.0)
    all_C, all_q = [temperature_C.copy()], [q_J.copy()]
    entered_J = 0.0

    def stage(known_J: Array, known_q_J: Array, guess_J: Array) -> tuple[Array, Array]:
        right = known_J + theta_s * load_W
        right[pack] += known_q_J
        free_C = cho_solve_banded((band, True), right, check_finite=False)
        if not len(pack):
            return free_C, guess_J
        pack_C, new_q_J = _melt(free_C[pack], reach_K_J[pack], latent_J, extra_J_K, guess_J)
        whole_C = free_C - reach_K_J @ new_q_J
        whole_C[pack] = pack_C
        return whole_C, new_q_J

    for _ in range(steps):
        energy_J = capacity * temperature_C
        first_C, first_q_J = stage(energy_J.copy(), q_J, q_J)
        flux_W = (capacity * first_C - energy_J) / theta_s
        flux_q_W = (first_q_J - q_J) / theta_s
        weight_s = (1.0 - GAMMA) * step_s
        temperature_C, new_q_J = stage(energy_J + weight_s * flux_W, q_J + weight_s * flux_q_W, first_q_J)
        for part_s, at_C in ((weight_s, first_C), (theta_s, temperature_C)):
            entered_J += part_s * (mesh.source_W.sum() + film_sum_W_K @ (air_C - at_C))
        q_J = new_q_J
        all_C.append(temperature_C.copy())
        all_q.append(q_J.copy())

    stored_J = float(np.sum(capacity * (all_C[-1] - all_C[0])) + (all_q[-1] - all_q[0]).sum())
    held_J = np.array(all_q)
    total_J = latent_J.sum()
    melted = np.clip(held_J, 0.0, latent_J).sum(axis=1) / total_J if len(pack) else np.zeros(steps + 1)
    return History(
        np.linspace(0.0, steps * step_s, steps + 1), np.array(all_C), held_J, stored_J, float(entered_J), melted
    )


def _diagonal(values: Array) -> csr_array:
    """Sparse diagonal matrix."""
    n = len(values)
    return csr_array((values, (np.arange(n), np.arange(n))), shape=(n, n))
