"""What a clinic chooses for itself."""

from datetime import datetime

from django.db import transaction

from plasmawright.practice.clinic_settings import chosen_from, refuse_contradiction, setting
from plasmawright.records.models import Clinic, ClinicSetting, Person
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.settings import texts_of
from plasmawright.records.services.ledger import write_entry


def set_setting(*, clinic: Clinic, key: str, value_text: str, by: Person, at: datetime) -> ClinicSetting | None:
    """Choose one setting; ``None`` where it stands so already.

    Raises
    ------
    Refusal
        If ``by`` may not, there is no such setting, the value lies outside its range, or it contradicts another one.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.CHANGE_SETTINGS)
    known, text = setting(key), value_text.strip()
    known.read(text)
    with transaction.atomic():
        Clinic.objects.select_for_update().get(pk=clinic.pk)  # two choices at once must not contradict each other
        texts = texts_of(clinic)
        if texts.get(key, known.default_text) == text:
            return None
        refuse_contradiction(chosen_from({**texts, key: text}), key)
        chosen = ClinicSetting(clinic=clinic, key=key, value_text=text, set_at=at, set_by=by)
        chosen.save(force_insert=True)
        write_entry(clinic=clinic, about=chosen, became="set", by=by.username, at=at)
    return chosen
