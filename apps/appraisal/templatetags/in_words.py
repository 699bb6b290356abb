"""How the pages show figures: in the same words as the sentences."""

from django import template

from apps.appraisal.sentences import money, percent

register = template.Library()
register.filter("percent", percent)
register.filter("money", money)
