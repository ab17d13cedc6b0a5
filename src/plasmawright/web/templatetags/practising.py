"""What a practice run shows besides the run."""

from django import template

from plasmawright.bench.facts import RunFacts
from plasmawright.records.models import Run
from plasmawright.web.practice_seen import Sight, sight_of

register = template.Library()


@register.simple_tag
def sight_here(run: Run, facts: RunFacts) -> Sight | None:
    """Return what the step of a practice run would show, asked of what is worked out already."""
    return sight_of(run, facts)
