"""Figures on pages in the same words as in sentences."""

from django import template

from apps.appraisal.words.phrases import money

register = template.Library()
register.filter("money", money)
