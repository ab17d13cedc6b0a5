"""What a clinic has chosen for its bench."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Policy:
    """The clinic's choices, each with its range and published spread in ``practice.clinic_settings``.

    Parameters
    ----------
    hold_h
        From the draw to release, hours.
    open_caution_min
        From the first cap off to the last syringe closed: past it a caution stands, minutes.
    stand_min, rest_min
        How long drawn tubes stand and a pellet rests, minutes; 0 leaves the step to one press.
    solo_pause_s
        Between two read-backs by the same person, seconds.
    solo
        Whether one person may check their own run.
    count_tube_ml
        Blood for counting drawn in the same stick, mL; 0 draws none.
    label_identifiers
        Which of ``name``, ``birth_on`` and ``record_number`` stand on a label; two at least.
    activation
        Whether the clinic activates; the step is asked either way.
    """

    hold_h: float
    open_caution_min: float
    stand_min: float
    rest_min: float
    solo_pause_s: float
    solo: bool
    count_tube_ml: float
    label_identifiers: tuple[str, ...]
    activation: bool
