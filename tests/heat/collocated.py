"""The heated disc under a finite strain from afar, solved whole: an independent judge of the derivative in `strained`.

Same rings and layers, but the displacement is u_0(r) + U(r) cos 2 theta along the radius and W(r) sin 2 theta around,
and the metal's state is followed at four angles with all three plane stresses; nothing is linearised.
"""

import numpy as np
from scipy.linalg import solveh_banded

from straighten.heat.field import expanded, read
from straighten.heat.heating import spot_heating
from straighten.heat.spot import Plate, strain_rows, surround


class Judge:
    def __init__(self, case, angles=4):
        self.case, self.alloy, self.angles = case, case.alloy, angles
        fire = spot_heating(case)
        self.mesh, self.heat = fire.mesh, fire.heating.temperature[:, 0]
        theta = (np.arange(angles) + 0.5) * np.pi / 2 / angles
        self.cos2, self.sin2 = np.cos(2 * theta), np.sin(2 * theta)
        rows = strain_rows(self.mesh)[:, 0]
        self.rows = np.repeat(rows[:, :, None, :], angles, axis=2)
        for c, around in ((0, self.cos2), (1, self.cos2), (2, self.sin2)):
            self.rows[c][:, :, [1, 2, 4, 5]] *= around[:, None]
        self.measure = (self.mesh.volume[0] / (4 * np.pi))[:, None, :] / angles
        plate = Plate(modulus=self.alloy.modulus[0][1], poisson=self.alloy.poisson)
        stiff, pull = surround(self.mesh, plate)
        halved = np.array([1.0, 0.5, 0.5])  # cos^2 and sin^2 average to a half around the ring
        self.rim, self.pull = stiff[0] * halved[:, None], pull[0] * halved

    def shrinkage(self, xx, yy):
        """Inherent volumes along and across after heating and cooling under far strains xx, yy."""
        nu, hard = self.alloy.poisson, self.alloy.hardening
        far = self.pull * np.array([(xx + yy) / 2, (xx - yy) / 2, (xx - yy) / 2])
        rings, layers = self.mesh.ring.shape[1], self.mesh.height.shape[1]
        shape = (rings, self.angles, layers)
        pa, pb, pg, slip = (np.zeros(shape) for _ in range(4))
        u = np.zeros((rings + 1, 3))
        for heat in [np.full(self.heat.shape[1:], 20.0), *self.heat]:
            warm = heat[:, None, :]
            e = read(self.alloy.modulus, warm)
            limit = np.broadcast_to(read(self.alloy.yield_short, warm) + hard * slip, shape)
            thermal = expanded(self.alloy.expansion, warm)
            ka, kb = e / (1 - nu), e / (1 + nu)
            for _ in range(50):
                s = np.einsum("cnti,ni->cnt", self.rows, np.concatenate([u[:-1], u[1:]], axis=1))[..., None]
                trial = ka * (s[0] - 2 * thermal - pa), kb * (s[1] - pb), kb / 2 * (s[2] - pg)
                stress, tangent, x, q = _mapped(trial, (ka, kb), limit, hard)
                force, band = self._assembled(stress, tangent, u, far)
                if np.abs(force).max() < 1e-7 * 1e8 * self.measure.max():
                    break
                u = u - solveh_banded(band, force).reshape(u.shape)
            a, b, g = stress
            pa, pb, pg, slip = pa + x * a / 2, pb + 1.5 * x * b, pg + 3 * x * g, slip + x * q
        volume = self.mesh.volume[0][:, None, :] / self.angles
        turned = pb / 2 * self.cos2[None, :, None] - pg / 2 * self.sin2[None, :, None]
        return -((pa / 2 + turned) * volume).sum(), -((pa / 2 - turned) * volume).sum()

    def _assembled(self, stress, tangent, u, far):
        rings, size = self.mesh.ring.shape[1], u.size
        at = 3 * np.arange(rings)[:, None] + np.arange(6)
        weight = (1.0, 1.0, 2.0)
        force, band = np.zeros(size), np.zeros((6, size))
        stiff = 0.0
        for i in range(3):
            part = np.einsum("nt,nti->ni", (stress[i] * self.measure).sum(-1) * weight[i], self.rows[i])
            np.add.at(force, at, part)
            for j in range(3):
                sums = (tangent[i][j] * self.measure).sum(-1) * weight[i]
                stiff = stiff + np.einsum("nt,nti,ntj->nij", sums, self.rows[i], self.rows[j])
        force[-3:] += self.rim @ u[-1] - far
        force[:3] = 0
        for i in range(6):
            for j in range(i, 6):
                np.add.at(band[5 - (j - i)], at[:, j], stiff[:, i, j])
        for i in range(3):
            for j in range(i, 3):
                band[5 - (j - i), size - 3 + j] += self.rim[i, j]
        for i in range(3):
            band[:, i] = 0
            for off in range(1, 6):
                band[5 - off, i + off] = 0
            band[5, i] = 1
        return force, band


def _mapped(trial, moduli, limit, hard):
    a, b, g = trial
    ka, kb = moduli
    ca, cb = ka / 2, 1.5 * kb
    beyond = (a * a + 3 * b * b) / 4 + 3 * g * g > limit**2
    aa, bb, x = a * a / 4, 0.75 * b * b + 3 * g * g, np.zeros_like(limit)
    for _ in range(6):
        fa, fb = 1 + ca * x, 1 + cb * x
        p, r = aa / fa**2, bb / fb**2
        q = np.sqrt(p + r) + 1e-30
        slope = (p * ca / fa + r * cb / fb) / q**3 + hard / limit
        x = np.where(beyond, np.maximum(x - (1 / q - (1 - hard * x) / limit) / slope, 0), 0)
    fa, fb = 1 + ca * x, 1 + cb * x
    a, b, g = a / fa, b / fb, g / fb
    q = np.sqrt((a * a + 3 * b * b) / 4 + 3 * g * g) + 1e-30
    left = 1 - hard * x
    gx = -(a * a / 4 * ca / fa + (0.75 * b * b + 3 * g * g) * cb / fb) / q * left - hard * q
    both = -left / (q * gx) * beyond
    along = (ka * a / 4 / fa * both, kb * 0.75 * b / fb * both, kb / 2 * 3 * g / fb * both)
    drop, own = (-a * ca / fa, -b * cb / fb, -g * cb / fb), (ka / fa, kb / fb, kb / 2 / fb)
    tangent = [[drop[i] * along[j] + (own[i] if i == j else 0) for j in range(3)] for i in range(3)]
    return (a, b, g), tangent, x, q
