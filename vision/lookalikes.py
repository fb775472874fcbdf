"""Other ways to lay the same plan over the same circles, and what speaks for or against each.

A nearly symmetric switch fits upside down with every circle and every bar in place, and each rotor then
gets another rotor's reading. A switch cut by the picture's edge can fit one rotor further along; a mirrored
photo can fit by swapping partners. So after the switch was found, every movement of the plan that brings
the found rotors onto rotors is listed, and fingers and way-up marks are compared under both. Finger blocks
speak only where the movement turns their axes; where it does not, they look the same either way and only
named marks may decide.
"""

from dataclasses import dataclass, replace
from itertools import combinations, permutations

import numpy as np
import numpy.typing as npt

from vision.angles import apart
from vision.camera import Camera, rotation_vector
from vision.landmarks import Landmarks
from vision.layout import Layout, RotorPlan

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

# Rotors count as falling on each other within this: half a drum away the circles no longer fit.
_NEAR_MM = 4.0
# Finger axes count as the same within this; blocks turned by more than it stand half a block aside.
_SAME_AXIS_DEG = 20.0


@dataclass(frozen=True)
class Move:
    """A movement of the plan (4 x 4; a reflection where `mirrored`), and whom it puts in a rotor's place."""

    matrix: Floats
    mirrored: bool
    swaps: dict[str, str]

    def reads_as(self, rotor: str) -> str:
        """Name the place that a rotor takes after the move: where its state would then be read."""
        return next((old for old, new in self.swaps.items() if new == rotor), "")

    def turns_fingers(self, layout: Layout) -> bool:
        """Say whether some found rotor's finger axis would lie otherwise."""
        return any(
            float(apart(_moved_axis(self.matrix, layout.rotor(new)), layout.rotor(old).finger_axis_deg))
            > _SAME_AXIS_DEG
            for old, new in self.swaps.items()
        )


def moves(layout: Layout, found: list[str]) -> list[Move]:
    """List the movements, other than none at all, that put some rotor on every found rotor's place.

    A `Move` M means: the photo may as well show the plan as X -> camera(M X).
    """
    rotors = [layout.rotor(name) for name in found]
    if len(rotors) < 2:
        return []
    first, second = max(combinations(rotors, 2), key=lambda pair: _distance(*pair))
    listed = []
    for a, b in permutations(layout.rotors, 2):
        if abs(_distance(a, b) - _distance(first, second)) > _NEAR_MM:
            continue
        for mirrored in (False, True):
            matrix = _isometry(a, b, first, second, mirrored=mirrored)
            swaps = _swaps(layout, rotors, matrix)
            same = not mirrored and all(old == new for old, new in swaps.items())
            if len(swaps) == len(rotors) and not same:
                listed.append(Move(matrix, mirrored, swaps))
    return listed


def _distance(one: RotorPlan, other: RotorPlan) -> float:
    return float(np.hypot(one.centre_mm[0] - other.centre_mm[0], one.centre_mm[1] - other.centre_mm[1]))


def _isometry(a: RotorPlan, b: RotorPlan, onto_a: RotorPlan, onto_b: RotorPlan, *, mirrored: bool) -> Floats:
    """Movement that brings a to where `onto_a` is and b towards `onto_b`."""
    here, there = np.subtract(b.centre_mm, a.centre_mm), np.subtract(onto_b.centre_mm, onto_a.centre_mm)
    flip = np.diag([1.0, -1.0]) if mirrored else np.eye(2)
    here = flip @ here
    turn = np.arctan2(there[1], there[0]) - np.arctan2(here[1], here[0])
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ flip
    matrix = np.eye(4)
    matrix[:2, :2] = rotation
    middle_here = (np.array(a.centre_mm) + b.centre_mm) / 2
    middle_there = (np.array(onto_a.centre_mm) + onto_b.centre_mm) / 2
    matrix[:2, 3] = middle_there - rotation @ middle_here
    return matrix


def _swaps(layout: Layout, rotors: list[RotorPlan], matrix: Floats) -> dict[str, str]:
    swaps = {}
    for rotor in rotors:
        for other in layout.rotors:
            place = matrix[:2, :2] @ other.centre_mm + matrix[:2, 3]
            if np.hypot(*(place - rotor.centre_mm)) < _NEAR_MM:
                swaps[rotor.id] = other.id
    return swaps


def _moved_axis(matrix: Floats, rotor: RotorPlan) -> float:
    axis = np.radians(rotor.finger_axis_deg)
    x, y = matrix[:2, :2] @ [np.cos(axis), np.sin(axis)]
    return float(np.degrees(np.arctan2(y, x)))


def moved_camera(camera: Camera, move: Move, width: int) -> Camera:
    """Camera that sees the moved plan; for a mirrored move it belongs to the photo flipped left to right."""
    if not move.mirrored:
        return camera.turned(move.matrix)
    flip = np.diag([-1.0, 1.0, 1.0])
    rotation = flip @ camera.rotation @ move.matrix[:3, :3]
    tvec = flip @ (camera.rotation @ move.matrix[:3, 3] + camera.tvec)
    centre = np.array([width - 1 - camera.centre[0], camera.centre[1]])
    return replace(camera, centre=centre, rvec=rotation_vector(rotation), tvec=tvec)


def margin(pixels: Pixels, camera: Camera, move: Move, landmarks: Landmarks, layout: Layout) -> float:
    """How much better marks (and fingers, where the move turns them) agree as found than after the move."""
    there = np.ascontiguousarray(pixels[:, ::-1]) if move.mirrored else pixels
    here = _by_name(landmarks, pixels, camera)
    moved = _by_name(landmarks, there, moved_camera(camera, move, pixels.shape[1]))
    kinds = ("mark", "finger") if move.turns_fingers(layout) else ("mark",)
    shared = [key for key in here if key in moved and key[0] in kinds]
    if not shared:
        return 0.0
    return float(np.mean([here[key] - moved[key] for key in shared]))


def _by_name(
    landmarks: Landmarks, pixels: Pixels, camera: Camera
) -> dict[tuple[str, tuple[float, ...]], float]:
    found = landmarks.nearby(pixels, camera)
    return {(one.landmark.kind, tuple(one.landmark.plan.tolist())): one.agreement for one in found}
