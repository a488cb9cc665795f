"""What the two networks put out, in which order and at which size."""

from __future__ import annotations

from finmeasure.reading import PARTS

#: Landmarks with a heat map of their own, in the order of the fine network's output.
LANDMARKS = (
    "snout_tip", "eye_front", "eye_back", "operculum_end",
    "dorsal_origin", "dorsal_end", "dorsal_tip", "dorsal_last_ray_tip",
    "second_dorsal_origin", "second_dorsal_end", "second_dorsal_tip",
    "adipose_origin", "adipose_tip",
    "caudal_base", "caudal_upper_insertion", "caudal_lower_insertion",
    "caudal_upper_tip", "caudal_lower_tip", "caudal_fork",
    "anal_origin", "anal_end", "anal_tip", "anal_last_ray_tip",
    "pelvic_origin", "pelvic_tip", "pectoral_origin", "pectoral_tip",
    "body_top", "body_bottom", "peduncle_top", "peduncle_bottom",
)  # fmt: skip
#: Classes of the part mask: 0 ground, then these.
MASK_PARTS = tuple(part for part in PARTS if part != "fish")

FINE_SIDE_PX = 384
HEAT_STRIDE_PX = 4
MASK_STRIDE_PX = 2

FIND_SIDE_PX = 320
FIND_STRIDE_PX = 4
#: Channels of the find network: fish here, whole side view, mirrored, then two vectors.
FIND_CHANNELS = ("fish", "whole", "mirrored", "snout_x", "snout_y", "tail_x", "tail_y")
#: The vectors are in units of this many pixels of the network's input.
FIND_UNIT_PX = 80.0
