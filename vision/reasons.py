"""Every reason for which a photo, a rotor or a bar is not read: a sentence that a technician can act on."""

from enum import Enum


class Reason(Enum):
    """One reason; the value is its sentence. `{rotor}` is filled in where a rotor is meant."""

    NOT_FOUND = (
        "The switch of this layout was not found. Show it whole, from straight ahead, sharp and lit; "
        "fit the tag frame if there is one."
    )
    NOT_FOUND_BLURRED = (
        "The switch of this layout was not found: the photo is blurred. Hold still, tap on the switch to focus, "
        "and show it whole."
    )
    NOT_FOUND_DARK = (
        "The switch of this layout was not found: the photo is too dark. Hold the torch to it from the side."
    )
    MIRRORED = "The photo is mirrored (a front camera does this). Take it with the rear camera."
    SCREEN = (
        "The photo shows the fine regular grid of a screen. Take a photo of the switch itself; "
        "if it is one, take it again from a little nearer or further away."
    )
    UNSURE_MIRRORED = (
        "It cannot be told whether the photo is mirrored. Fit the tag frame or show the whole switch."
    )
    NO_REFERENCE = (
        "No tag of this layout can be read, and the layout has no reference photo to search with. "
        "Fit the tag frame, or take the photo nearer and sharper."
    )
    NOTHING_READABLE = "No rotor can be read: {detail} Take the photo again."
    OUT_OF_VIEW = "{rotor} is outside the picture: step back or turn the phone."
    CUT = "{rotor} is cut by the edge of the picture: step back or turn the phone."
    NO_CIRCLES = (
        "{rotor} is not seen where the layout puts it: something hides it, or the light there is bad."
    )
    BLURRED = "{rotor} is blurred: hold still and tap on it to focus."
    DARK = "{rotor} is too dark: hold the torch from the other side."
    GLARE = "Glare covers {rotor}: move the lamp to the side."
    HIDDEN = "Something hides a bar of {rotor}: move the cable, tool or dirt away."
    FAINT = "The bars of {rotor} hardly stand out from what is around them: light it from the side."
    DISAGREE = (
        "The two bars of {rotor} do not bear each other out: take another photo, from straighter ahead."
    )
    BETWEEN = "{rotor} stands between its two positions."
    IMPOSSIBLE = (
        "The two bars of {rotor} are not square to each other: it is damaged, or something lies on it."
    )
    WAY_UP = (
        "{rotor} would be read otherwise if the switch is seen upside down, and nothing tells which way up: "
        "fit the tag frame, tap the upper edge, or take a wider photo."
    )
    TAP_AGAINST = (
        "The tap on the upper edge goes against what the photo shows of the switch. "
        "Take the photo again, and tap the edge anew or fit the tag frame."
    )
    ALONE = (
        "How {rotor} is turned cannot be told where fewer than two rotors are seen: "
        "show more of the switch or fit the tag frame."
    )

    def about(self, rotor: str = "", detail: str = "") -> str:
        """Fill in the rotor's name."""
        return self.value.format(rotor=rotor, detail=detail)
