"""Where a new plan's stop comes from, said beside its entry."""

from dataclasses import replace

from plasmawright.web.entry import Entries
from plasmawright.web.visit_form import Form

OWN_HINT = "from your stop-line drill, bias and spread in one"


def hinted(form: Form, name: str) -> Form:
    """Return the form with a few words beside one entry of the bench; its group stands open, so that they are read."""
    return replace(form, bench=tuple(_hinted(group, name) for group in form.bench))


def _hinted(group: Entries, name: str) -> Entries:
    if all(entry.field.name != name for entry in group.entries):
        return group
    entries = tuple(
        replace(entry, field=replace(entry.field, hint=OWN_HINT)) if entry.field.name == name else entry
        for entry in group.entries
    )
    return replace(group, folded="", entries=entries)
