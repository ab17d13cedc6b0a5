"""What a clinic has chosen, and what stands where it has not."""

from plasmawright.bench.policy import Policy
from plasmawright.practice.clinic_settings import Chosen, Thresholds, chosen_from, label_identifiers, thresholds_from
from plasmawright.practice.clinic_settings import number as number_of
from plasmawright.records.models import Clinic, ClinicSetting


def choices_of(clinic: Clinic) -> dict[str, ClinicSetting]:
    """Return the last choice of each setting, with who made it."""
    rows = ClinicSetting.objects.of(clinic).select_related("set_by").order_by("pk")
    return {row.key: row for row in rows}


def texts_of(clinic: Clinic) -> dict[str, str]:
    """Return what a clinic chose, as it was typed."""
    return {key: row.value_text for key, row in choices_of(clinic).items()}


def chosen_by(clinic: Clinic) -> Chosen:
    """Return every setting's value, the default where the clinic chose none."""
    return chosen_from(texts_of(clinic))


def thresholds_of(clinic: Clinic) -> Thresholds:
    """Return the numbers that this clinic judges an intake by."""
    return thresholds_from(chosen_by(clinic))


def policy_of(clinic: Clinic) -> Policy:
    """Return what this clinic chose for its bench."""
    chosen = chosen_by(clinic)
    return Policy(
        hold_h=number_of(chosen, "hold_h"),
        open_caution_min=number_of(chosen, "open_caution_min"),
        stand_min=number_of(chosen, "stand_min"),
        rest_min=number_of(chosen, "rest_min"),
        solo_pause_s=number_of(chosen, "solo_pause_s"),
        solo=bool(chosen["solo"]),
        count_tube_ml=number_of(chosen, "count_tube_ml"),
        label_identifiers=label_identifiers(chosen),
        activation=bool(chosen["activation"]),
    )
