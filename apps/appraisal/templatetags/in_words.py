"""How the pages show figures: in the same words as the sentences."""

from django import template

from apps.appraisal.words.phrases import money

register = template.Library()
register.filter("money", money)
