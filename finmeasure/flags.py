"""The one table of quality flags: id and plain words."""

from __future__ import annotations

from collections.abc import Iterable

from finmeasure.errors import DefinitionError

FLAGS: dict[str, str] = {
    "no_scale": "No scale in the photo: lengths in millimetres are refused, ratios are measured.",
    "scale_uncertain": "The scale is worse than usual; lengths carry a larger uncertainty.",
    "plane_assumed": "The fish is taken to stand in the plane of the card; no correction is made.",
    "print_unchecked": "Was it printed at 100 %, not “fit to page”? Its check lines were not "
    "measured; 0.05 % is assumed.",
    "not_rectified": "No card: tilt of the fish is unknown, ratios carry a tilt term.",
    "ruler_proposed": "The program found the ruler: check its dashed frame and its spacing.",
    "outside_card": "The fish reaches outside the ring of the card.",
    "two_point_profile": "Direction of the fin's last ray was taken from the outline.",
    "folded": "The fin is not spread; it gives no length and no edge figures.",
    "bent": "The body is bent; straight lengths read too short.",
    "low_resolution": "Few pixels along the fin; edge figures are weak or refused.",
    "edge_not_visible": "The fin's edge cannot be told from the background.",
    "fork_not_marked": "The tail looks forked and its fork point is not marked.",
    "free_tips": "Free ray or spine tips: only change against the fish's own record counts.",
    "broad_hollow": "A broad hollow of the edge may be the fin's own shape: compare with mates.",
    "no_whole_reference": "No whole fin is on record to compare with.",
    "outline_invalid": "The traced outline cannot be used; the text beside it says why.",
    "out_of_frame": "A landmark lies outside the photo.",
    "implausible": "The value is outside what this body form or group shows.",
    "few_fish": "Too few fish for a verdict.",
    "date_from_name": "The date was taken from the file name, not from the camera.",
    "corrected_by_person": "A person corrected the program's proposal.",
    "long_fin_strain": "Veil or long-fin strain: not comparable with wild-type fins.",
    "u_default": "No uncertainty was given for a landmark; that of a careful person is used.",
}


def joined(flags: Iterable[str]) -> str:
    """Join flags for a table cell, each once, in the order of the table.

    Parameters
    ----------
    flags : iterable of str
        Flag ids.

    Returns
    -------
    str
        Ids joined by ``;``.

    Raises
    ------
    DefinitionError
        If a flag is not in the table.

    Examples
    --------
    >>> joined(["folded", "no_scale", "folded"])
    'no_scale;folded'
    """
    given = set(flags)
    if unknown := sorted(given - FLAGS.keys()):
        message = f"Flag {unknown[0]!r} is not known. Allowed: {', '.join(FLAGS)}."
        raise DefinitionError(message)
    return ";".join(flag for flag in FLAGS if flag in given)
