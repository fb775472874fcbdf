"""A bar's face differs from the drum beside it; drum between fingers does not."""

import numpy as np
import pytest

from tests.vision.scenery import seen_from_above
from vision.faces import face_contrast
from vision.patch import cut


@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_face_shows_where_the_bar_lies_and_none_where_fingers_stand_alone(three_rotors, which):
    rotor = three_rotors.layout.rotors[which]
    camera = seen_from_above(three_rotors.layout, (1280, 960))
    shown = {}
    for along in ("upper", "lower"):
        pixels = three_rotors.photo({rotor.id: along}, tags=False).pixels
        patch = cut(pixels, camera, np.array(rotor.centre_mm), rotor.lower.z_mm, rotor.drum_radius_mm + 2.0)
        shown[along] = face_contrast(patch, rotor, rotor.finger_axis_deg)
    assert shown["lower"] > 11.0
    assert shown["upper"] < 0.7 * shown["lower"]
