"""One camera: pinhole with one radial distortion term, posed over the plan; and its fit to measured points.

Frames: plan millimetres (x right, y up, z towards the camera) and pixels (x right, y down, middle of the
first pixel at 0, 0). A plan point X lies in the camera's frame at R X + t; n = (x / z, y / z); pixel =
centre + f * n * (1 + k1 * |n|^2) (the radial term of the common model, D. C. Brown, Close-range camera
calibration, 1971). Square pixels and a central principal point are assumed: phones keep both well within
what the fit can notice on one plane.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# Prior on the focal length: phones' lenses lie between 22 and 70 mm (in terms of a 36 mm wide frame). The
# prior is weak: one sigma is a factor of 1.45, and four tags at 15 degrees of tilt overrule it.
FOCAL_MM, FOCAL_LOG_SIGMA = 34.0, 0.37
# Prior on k1: main lenses are corrected to within a few hundredths, wide ones show -0.1 and beyond.
K1_MEAN, K1_SIGMA = -0.03, 0.06


def rotation_vector(rotation: Floats) -> Floats:
    """Rodrigues vector (3,) of a rotation matrix."""
    return np.asarray(cv2.Rodrigues(rotation)[0], np.float64).ravel()


@dataclass(frozen=True)
class Camera:
    """Pose and lens of one photo; `fit` moves all eight parameters at once.

    Attributes
    ----------
    f_px, k1 : float
        Focal length in pixels and radial distortion.
    centre : (2,) array
        Principal point, pixels.
    rvec, tvec : (3,) arrays
        Rotation (Rodrigues vector) and translation, plan to camera, mm.

    """

    f_px: float
    k1: float
    centre: Floats
    rvec: Floats
    tvec: Floats

    @property
    def rotation(self) -> Floats:
        """3 x 3 rotation, plan to camera."""
        return np.asarray(cv2.Rodrigues(self.rvec)[0], np.float64)

    def project(self, points: Floats) -> Floats:
        """Map plan points (n, 3) in mm to pixels (n, 2)."""
        return _project(self._vector(), self.centre, points)

    def tilt_deg(self) -> float:
        """Angle between the line of sight and the plan's normal, degrees."""
        return float(np.degrees(np.arccos(np.clip(-self.rotation[2, 2], -1, 1))))

    def px_per_mm(self, point: Floats) -> float:
        """Pixels per millimetre of plan at a point: root of the area scale."""
        around = self.project(np.array([point, point + np.array([1.0, 0, 0]), point + np.array([0, 1.0, 0])]))
        a, b = around[1] - around[0], around[2] - around[0]
        return float(np.sqrt(abs(a[0] * b[1] - a[1] * b[0])))

    def turned(self, move: Floats) -> "Camera":
        """Put a plan movement (4 x 4, rigid) before the camera: X -> camera(move X)."""
        rotation = self.rotation @ move[:3, :3]
        tvec = self.rotation @ move[:3, 3] + self.tvec
        return replace(self, rvec=rotation_vector(rotation), tvec=tvec)

    def _vector(self) -> Floats:
        return np.concatenate([[np.log(self.f_px), self.k1], self.rvec, self.tvec])


def _project(v: Floats, centre: Floats, points: Floats) -> Floats:
    return np.asarray(_project_all(v[None], _turns(v[None]), centre, points)[0])


def _turns(vectors: Floats) -> Floats:
    """Rotations (m, 3, 3) of m cameras."""
    return np.array([cv2.Rodrigues(v[2:5])[0] for v in vectors])


def _project_all(vectors: Floats, rotations: Floats, centre: Floats, points: Floats) -> Floats:
    """Pixels (m, n, 2) of points (n, 3) under m cameras with their rotations (m, 3, 3)."""
    seen = points @ rotations.transpose(0, 2, 1) + vectors[:, None, 5:8]
    n = seen[..., :2] / np.maximum(seen[..., 2:3], 1e-3)
    # Beyond the lens's field the polynomial turns back; there the distance is held so that far points stay
    # far.
    r2 = np.minimum((n * n).sum(-1, keepdims=True), 1.0)
    f, k1 = np.exp(vectors[:, 0])[:, None, None], vectors[:, 1][:, None, None]
    return np.asarray(centre + f * n * (1 + k1 * r2))


def _from_vector(v: Floats, centre: Floats) -> Camera:
    return Camera(float(np.exp(v[0])), float(v[1]), centre, v[2:5].copy(), v[5:8].copy())


@dataclass(frozen=True)
class Fitted:
    """A camera with the residuals of its fit (pixels, one a measurement) and their weights (0 = outlier)."""

    camera: Camera
    residuals: Floats
    weights: Floats

    @property
    def rms_px(self) -> float:
        """Weighted root mean square of the residuals, pixels."""
        return float(np.sqrt((self.weights * self.residuals**2).sum() / max(self.weights.sum(), 1e-9)))


def fit(  # noqa: PLR0913 - what is measured and what is believed beforehand are each named
    start: Camera,
    points: Floats,
    pixels: Floats,
    *,
    normals: Floats | None = None,
    sigma_px: Floats | float = 0.5,
    focal_prior_px: float,
    tilt_sigma: float | None = None,
    steps: int = 12,
) -> Fitted:
    """Fit focal length, k1 and pose to measured points by robust least squares with weak priors.

    Parameters
    ----------
    start : Camera
        Where the fit begins; its principal point is kept.
    points, pixels : (n, 3) and (n, 2)
        Plan points, mm, and where they were seen.
    normals : (n, 2), optional
        Where given and finite, only the component along the normal counts (a point on an edge); NaN rows
        count wholly.
    sigma_px : float or (n,)
        Standard deviation of a measurement; a Cauchy weight bends outliers beyond about three of them.
    focal_prior_px : float
        Mean of the focal prior.
    tilt_sigma : float, optional
        Sigma of a prior that holds the line of sight near the plan's normal, as the sine of the tilt: for
        few points.
    steps : int
        Most steps of the fit.

    """
    v = start._vector()  # noqa: SLF001 - the fit is the other half of the class
    sigma = np.broadcast_to(np.asarray(sigma_px, np.float64), (len(points),))
    prior_mean = np.array([np.log(focal_prior_px), K1_MEAN])
    prior_weight = np.array([1 / FOCAL_LOG_SIGMA, 1 / K1_SIGMA])

    along = None if normals is None else np.isfinite(normals[:, 0])

    def residuals(vectors: Floats) -> Floats:
        """Of each camera (m, rows): what was measured, and the tilt where it is held."""
        turns = _turns(vectors)
        found = measured(vectors, turns)
        if tilt_sigma is None:
            return found
        return np.concatenate([found, turns[:, :2, 2] / tilt_sigma], axis=1)

    def measured(vectors: Floats, turns: Floats) -> Floats:
        off = _project_all(vectors, turns, start.centre, points) - pixels
        if normals is None or along is None:
            return (off / sigma[:, None]).reshape(len(vectors), -1)
        one = (off[:, along] * normals[along]).sum(-1) / sigma[along]
        both = (off[:, ~along] / sigma[~along, None]).reshape(len(vectors), -1)
        return np.concatenate([one, both], axis=1)

    def cost(r: Floats, vector: Floats) -> float:
        prior = ((vector[:2] - prior_mean) * prior_weight) ** 2
        return float(9 * np.log1p(r * r / 9).sum() + prior.sum())

    damp = 1e-3
    r = residuals(v[None])[0]
    best = cost(r, v)
    step_size = np.array([1e-4, 1e-4, 1e-5, 1e-5, 1e-5, 1e-3, 1e-3, 1e-3])
    for _ in range(steps):
        jacobian = ((residuals(v + np.diag(step_size)) - r) / step_size[:, None]).T
        w = 1 / (1 + r * r / 9)
        normal = (jacobian.T * w) @ jacobian
        gradient = (jacobian.T * w) @ r
        normal[[0, 1], [0, 1]] += prior_weight**2
        gradient[:2] += (v[:2] - prior_mean) * prior_weight**2
        for _ in range(4):
            trial = v - np.linalg.solve(normal + damp * np.diag(np.diag(normal) + 1e-12), gradient)
            trial_r = residuals(trial[None])[0]
            trial_cost = cost(trial_r, trial)
            if np.isfinite(trial_cost) and trial_cost < best:
                break
            damp *= 8
        else:
            break
        gain, v, r, best, damp = best - trial_cost, trial, trial_r, trial_cost, damp / 4
        if gain < 1e-4:
            break
    return Fitted(
        _from_vector(v, start.centre), *_scaled(measured(v[None], _turns(v[None]))[0], sigma, normals)
    )


def _scaled(r: Floats, sigma: Floats, normals: Floats | None) -> tuple[Floats, Floats]:
    """Bring residuals back to pixels, with their robust weights."""
    if normals is None:
        each = np.repeat(sigma, 2)
    else:
        along = np.isfinite(normals[:, 0])
        each = np.concatenate([sigma[along], np.repeat(sigma[~along], 2)])
    return r * each, 1 / (1 + r * r / 9)


def focal_prior_px(width: int, height: int) -> float:
    """Mean of the focal prior for a picture of this size, pixels."""
    return max(width, height) * FOCAL_MM / 36.0


def from_similarity(
    size: tuple[int, int], roll_deg: float, px_per_mm: float, at_px: Floats, plan_mm: Floats
) -> Camera:
    """Camera looking straight down: `plan_mm` at `at_px`, the plan turned counter-clockwise by `roll_deg`."""
    f = focal_prior_px(*size)
    centre = np.array([(size[0] - 1) / 2, (size[1] - 1) / 2])
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    rotation = np.array([[c, -s, 0], [-s, -c, 0], [0, 0, -1.0]])
    depth = f / px_per_mm
    offset = np.append((at_px - centre) * depth / f, depth)
    tvec = offset - rotation @ plan_mm
    return Camera(f, 0.0, centre, rotation_vector(rotation), tvec)
