"""How the pages show figures: in the same words as the sentences."""

from django import template

from apps.appraisal.sentences import percent

register = template.Library()
register.filter("percent", percent)
