"""How the pages show figures: in the same words as the sentences."""

from django import template

from apps.appraisal.sentences import money, no_cost, percent, structure_in_short

register = template.Library()
register.filter("percent", percent)
register.filter("money", money)
register.filter("no_cost", no_cost)
register.filter("structure", structure_in_short)
