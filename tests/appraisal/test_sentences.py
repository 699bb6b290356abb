"""Sentences at the moment of decision: no more precision or comfort than is known."""

import pytest

from apps.appraisal.board import strike_off
from apps.appraisal.looks import looks_sentences
from apps.appraisal.words import phrases, sentences
from apps.appraisal.words.phrases import Names

USD = {"currency": "USD"}


@pytest.mark.parametrize(
    ("amount", "told"),
    [
        ("41341.00", "41,300 USD"),
        ("141341.00", "141,000 USD"),
        ("9960.00", "10,000 USD"),
        ("1344.00", "1,300 USD"),
        ("222.00", "220 USD"),
        ("26.00", "26 USD"),
        ("-15776.00", "-15,800 USD"),
        ("0.00", "0 USD"),
    ],
)
def test_sums_that_were_worked_out_are_rounded(amount, told):
    assert phrases.about({"amount": amount, **USD}) == told


def test_what_people_typed_is_told_as_it_is():
    assert phrases.money({"amount": "27490.00", **USD}) == "27,490 USD"


def test_over_the_budget_names_the_groups_own_limit():
    told = strike_off.sentence(
        {"code": "over_budget", "within_budget": 0.02, "least": 0.2}, Names()
    )
    assert told == "The chance of staying within the budget is 2%, under your limit of 20%."


def test_a_boat_stands_behind_a_better_one():
    """The better one may be sold meanwhile: the sentence says who, and nothing final."""
    names = Names(boats={"k": "Kittiwake"})
    one = {"code": "dominated", "by": "k", "probability": 0.94, "also": ["t", "s"]}
    told = strike_off.sentence(one, names)
    assert told == (
        "She stands behind Kittiwake, who is 94% likely to be better for every buyer; two others "
        "would be as well."
    )
    earlier = strike_off.sentence({"code": "dominated", "by": "k"}, names)
    assert earlier == "She stands behind Kittiwake, who is better for every buyer."


def test_a_doubt_says_who_saw_it_how_likely_it_is_and_who_must_judge_it():
    one = {
        "code": "open_doubt",
        "title": "Line where keel meets hull",
        "level": 4,
        "seen_by": 2,
        "probability": 0.41,
        "judged_by": "surveyor",
    }
    told = strike_off.sentence(one, Names())
    assert told.startswith("Line where keel meets hull: two people saw it as failed")
    assert "that is 41% likely" in told
    assert told.endswith("a surveyor must judge it.")


def test_what_costs_more_than_it_is_worth():
    one = {"code": "costs_more", "probability": 0.73, "best": 0.03, "overrun_counts": 5.0}
    assert strike_off.sentence(one, Names()) == (
        "She is 73% likely to cost more than she is worth to you, with all work, and money over "
        "the budget counted 5 times; the best choice nevertheless: 3%."
    )


def test_an_earlier_method_does_not_say_how_likely_she_is_the_best_choice():
    one = {"code": "costs_more", "probability": 0.73, "overrun_counts": 5.0}
    assert strike_off.sentence(one, Names()) == (
        "She is 73% likely to cost more than she is worth to you, with all work, and money over "
        "the budget counted 5 times."
    )


def condition(worst):
    figures = {"score": 56.0, "low": 54.0, "high": 59.0, "coverage": 0.46}
    return {**figures, "worst_structural": worst}


def test_the_worst_structural_level_stands_beside_the_score():
    broken = condition({"level": 4, "checkpoint": "grid", "title": "Floors and grid"})
    assert "Floors and grid, failed." in sentences.structure(broken)
    assert sentences.structure_in_short(broken) == "structure failed"


def test_nothing_wrong_seen_is_not_called_sound():
    fine = condition({"level": 0, "checkpoint": "grid", "title": "Floors and grid"})
    assert sentences.structure(fine) == "Nothing wrong was seen in anything structural."
    assert "sound" not in sentences.structure_in_short(fine)


def test_what_nobody_looked_at_is_said_so():
    assert sentences.structure(condition(None)) == "Nobody has looked at anything structural."


def test_nothing_more_to_learn_is_said_of_the_order_alone():
    assert "No look would change the order" in looks_sentences.SETTLED


@pytest.mark.parametrize(
    ("effect", "fact", "amount", "told"),
    [
        ("passes", "asking", "41390.00", "At an asking price of 41,300 USD, Tern would"),
        ("within_budget", "asking", "9890.00", "At an asking price of 9,800 USD, Tern would"),
        ("falls_behind", "asking", "41310.00", "At an asking price of 41,400 USD, Tern would"),
        ("over_budget", "asking", "9810.00", "At an asking price of 9,900 USD, Tern would"),
        ("passes", "asking", "41300.00", "At an asking price of 41,300 USD, Tern would"),
        ("passes", "quote", "1290.00", "With a fixed quote of 1,200 USD for “Keel”, estimated at"),
        ("falls_behind", "quote", "1210.00", "With a fixed quote of 1,300 USD for “Keel”"),
    ],
)
def test_a_price_is_rounded_to_the_side_on_which_it_holds(effect, fact, amount, told):
    money = {"amount": amount, **USD}
    one = {"fact": fact, "effect": effect, "other": "k", "against_none": False, "title": "Keel"}
    one |= {"subject": "asking", "then_amount": money, "now_amount": {"amount": "2000.00", **USD}}
    names = Names(boats={"k": "Skua"})
    assert looks_sentences.change(one, "Tern", names).startswith(told)
    if effect == "passes" and fact == "asking":
        asked = {"candidate_id": "t", "kind": "price", "subject": "k", "price": money}
        said = looks_sentences.question(asked, Names(boats={"k": "Skua", "t": "Tern"}))
        assert "would the seller take 41,300 USD?" in said
