"""The decision brief on single boats: why a boat is in her place, and what would change it."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.board.candidate_answer import ReasonsRead
from apps.appraisal.columns import whole
from apps.appraisal.looks.looks_selectors import StepRead
from apps.appraisal.words.phrases import LEVELS
from apps.common.wording import sum_of
from apps.reports import words
from apps.reports.content import (
    Block,
    Bullets,
    Column,
    Line,
    Paragraph,
    Part,
    Picture,
    Section,
    StepsDrawn,
    Table,
)
from apps.reports.doubts import DOUBTS_UNREADABLE, doubt_lines, who_closes
from apps.reports.selectors import BoatRead, ListRead
from apps.reports.words import sea_trial_in_words
from apps.surveys.models import SurveyFinding

MOST_CHANGES = 5
DEFECTIVE = 3


def boat_section(row: BoardRow, found: ListRead) -> Section:
    boat = found.boats.get(row["candidate_id"])
    lines = [*why(row), *before_buying(row)]
    if boat and boat.reasons:
        lines += [*wants(boat.reasons), *neighbours(boat.reasons), *disputes(boat)]
        lines += [*doubt_lines(boat.reasons["doubts"]), *changes(boat)]
    lines += [*surveyed(row, found), *survey(row, found), *sea_trial(row, found)]
    lines += [*(seller_answers(boat) if boat else ())]
    blocks: list[Block] = [Bullets(tuple(lines))]
    if boat and row["place"] == 1:  # one picture of this kind is enough
        blocks += steps(boat, found)
    return Section(f"{row['place']}. {row['name']}", tuple(blocks))


def why(row: BoardRow) -> Iterator[Line]:
    for sentence in row["sentences"]:
        yield Line(sentence)
    for one in row["advice"]:
        yield Line(one["sentence"], lead="Reason to strike off:")


def surveyed(row: BoardRow, found: ListRead) -> Iterator[Line]:
    """What was agreed and made; a report stands above the screening."""
    for one in found.surveys.get(row["candidate_id"], ()):
        report = max(one.reports.all(), key=lambda report: report.number, default=None)
        if report is None:
            when = f" for {words.day(one.planned_on)}" if one.planned_on else ""
            text = f"{one.get_kind_display()}: agreed with {one.surveyor}{when}, no report yet."
        else:
            text = (
                f"{one.get_kind_display()}: {one.surveyor}, {report.document}. It stands above "
                "the screening."
            )
        yield Line(text, lead="Survey:")
        for finding in report.findings.all() if report else ():
            if finding.urgency or (finding.level or 0) >= DEFECTIVE:
                yield _to_put_right(finding, found)


def _to_put_right(finding: SurveyFinding, found: ListRead) -> Line:
    """What the professional says of it, in the report's words."""
    parts = [words.ended(finding.words)] if finding.words else []
    if finding.checkpoint_id:
        title = found.titles.get(finding.checkpoint_id, finding.checkpoint_id)
        level = "" if finding.level is None else f", {LEVELS[finding.level]}"
        parts.insert(0, f"“{title}”{level}.")
    if finding.low is not None and finding.high is not None:
        low, high = (sum_of(one, finding.currency) for one in (finding.low, finding.high))
        parts.append(f"{low} to {high}.")
    when = finding.get_urgency_display() or "how soon was not said"
    return Line(" ".join(parts), lead=f"To put right, {when}:")


def sea_trial(row: BoardRow, found: ListRead) -> Iterator[Line]:
    """Whether it was made, what it would settle and what it costs."""
    made = found.sea_trials.get(row["candidate_id"])
    figures = [
        one["sentence"]
        for one in found.looks["visits"]
        if one["kind"] == "sea_trial" and one["candidate_id"] == row["candidate_id"]
    ]
    if made or figures:
        yield Line(" ".join([f"{sea_trial_in_words(made)}.", *figures]), lead="Sea trial:")


def before_buying(row: BoardRow) -> Iterator[Line]:
    for one in row["before_buying"]:
        yield Line(one["sentence"], lead="Before anybody buys her:")


def seller_answers(boat: BoatRead) -> Iterator[Line]:
    """The seller's word, marked as such; the worst is in the results like everything else."""
    for one in boat.seller_answers:
        who = f"{one.get_said_by_display()}, {words.day(one.said_on)}"
        yield Line(f"{one.asked} “{one.answer}” ({who}; no look)", lead="Her seller says:")


def wants(reasons: ReasonsRead) -> Iterator[Line]:
    unmet = [one["sentence"] for one in reasons["wants"] if one["met"] is not True]
    if unmet:
        yield Line(" ".join(unmet), lead="Wants:")


def neighbours(reasons: ReasonsRead) -> Iterator[Line]:
    text = [one["sentence"] for one in reasons["compared"]]
    if text:
        yield Line(" ".join(text), lead="Next to her:")


def disputes(boat: BoatRead) -> Iterator[Line]:
    if boat.apart_on:
        yield Line(
            f"two levels or more apart on {words.listed(f'“{title}”' for title in boat.apart_on)}.",
            lead="People see her differently:",
        )
    if boat.votes:
        yield Line(
            words.listed(f"{name}: {vote}" for name, vote in boat.votes) + ".", lead="Calls:"
        )


def changes(boat: BoatRead) -> Iterator[Line]:
    text = [one["sentence"] for one in boat.explanation["changes"][:MOST_CHANGES]]
    if text:
        yield Line(" ".join(text), lead="What would change it:")


def survey(row: BoardRow, found: ListRead) -> Iterator[Line]:
    for one in found.looks["surveys"]:
        if one["candidate_id"] == row["candidate_id"]:
            yield Line(one["sentence"])


def steps(boat: BoatRead, found: ListRead) -> list[Block]:
    """Where her cost comes from, as a picture."""
    waterfall = by_cause(boat.explanation["waterfall"])
    if not waterfall:
        return []
    name, currency = boat.candidate.name, found.board["currency"]
    text = [f"{one['label']} {whole(one['amount']['amount'])}" for one in waterfall]
    return [
        Picture(
            chart="steps",
            drawn_from=StepsDrawn(waterfall=waterfall, currency=currency),
            alt=(
                f"Bars, each beginning where the last ended, in {currency}: {'; '.join(text)}; "
                f"total {whole(waterfall[-1]['total']['amount'])}."
            ),
            caption=(f"From the asking price of {name} to her expected all-in cost."),
        )
    ]


WORK = {"work": "Work", "later": "Later work"}
CAUSES = {"seen": "seen", "disputed": "disputed", "not_seen": "that nobody has seen"}


def by_cause(waterfall: list[StepRead]) -> list[StepRead]:
    """The same steps with one step for all work of each cause, and running totals."""
    merged: dict[str, StepRead] = {}
    sums: defaultdict[str, float] = defaultdict(float)
    for step in waterfall:
        label = step["label"]
        if step["of"] in WORK and step["cause"]:
            label = f"{WORK[step['of']]} {CAUSES[step['cause']]}"
        merged.setdefault(label, {**step, "area": None, "title": None, "label": label})
        sums[label] += float(step["amount"]["amount"])
    # The purchase comes before the work, and the reserve between work that cannot wait and work
    # that can: the order of first appearance.
    total = 0.0
    for label, one in merged.items():
        total += sums[label]
        one["amount"] = {**one["amount"], "amount": f"{sums[label]:.2f}"}
        one["total"] = {**one["total"], "amount": f"{total:.2f}"}
    return list(merged.values())


# --- All boats' doubts together ------------------------------------------------------------------


def doubts_section(found: ListRead) -> Section:
    rows = tuple(doubts_rows(found))
    unknown = tuple(doubts_unknown(found))
    if not rows:
        return Section("Open doubts", unknown or (Paragraph("There are none."),))
    return Section(
        "Open doubts, and who must judge them",
        (
            *unknown,
            Paragraph(
                "A doubt about structure, safety or flooding that a professional must judge "
                "stays open, whatever others saw, until the professional named or a documented "
                "repair clears it, or a receipt where one is enough. Each boat's doubts are listed "
                "with each boat."
            ),
            Table(
                caption="Open doubts by boat",
                columns=(
                    Column("Boat"),
                    Column("Defective or failed", "figures"),
                    Column("Tired", "figures"),
                    Column("Who must judge", share=2.0),
                ),
                parts=(Part(rows),),
            ),
        ),
    )


def doubts_unknown(found: ListRead) -> Iterator[Paragraph]:
    names = [one.candidate.name for one in found.boats.values() if not one.doubts_known]
    if names:
        yield Paragraph(f"Of {words.listed(names)}: {DOUBTS_UNREADABLE}")


def doubts_rows(found: ListRead) -> Iterator[tuple[str, ...]]:
    for row in found.board["candidates"]:
        boat = found.boats.get(row["candidate_id"])
        open_ones = boat.reasons["doubts"] if boat and boat.reasons else []
        if not open_ones:
            continue
        bad = sum(one["level"] >= DEFECTIVE for one in open_ones)
        judges = Counter(who_closes(one) for one in open_ones)
        yield (
            row["name"],
            str(bad),
            str(len(open_ones) - bad),
            ", ".join(f"{judge} {number}" for judge, number in judges.most_common()),
        )
