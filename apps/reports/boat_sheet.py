"""The day sheet's pages on one boat: looks, questions, check boxes and room for notes."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import Any

from apps.appraisal.words.phrases import article
from apps.boats.models import Candidate
from apps.catalogue.applicability import PossibleCheck
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.vocabulary import BEAUFORT, CONDITIONS, LEVELS, PLACES, SEA_STATES
from apps.common.wording import lead, money
from apps.reports import words
from apps.reports.content import (
    TICK,
    WRITE,
    Block,
    Bullets,
    Column,
    Facts,
    Line,
    Paragraph,
    Part,
    Section,
    Table,
    WritingRoom,
)
from apps.reports.doubts import DOUBTS_UNREADABLE, doubt_lines
from apps.reports.looks import LookToMake

MOST_CHECKS = 8
FIRST_LOOK = 15  # minutes
LEVEL_NAMES = ("nothing wrong seen", *LEVELS[1:])
SAID: dict[tuple[str, Any], str] = {
    ("where", "ashore"): "ashore",
    ("where", "afloat"): "afloat",
    ("covered", True): "under a tight cover",
    ("covered", False): "no tight cover on",
    ("walk_under_cover", True): "under a cover to walk under",
    ("mast_state", "stepped"): "mast stepped",
    ("mast_state", "on_deck"): "mast down, on deck",
    ("mast_state", "elsewhere"): "mast down, elsewhere",
    ("engine_winterised", True): "engine laid up",
    ("engine_winterised", False): "engine not laid up",
    ("batteries_connected", True): "batteries connected",
    ("batteries_connected", False): "batteries disconnected",
    ("seller_present", True): "seller there",
    ("seller_present", False): "seller not there",
    ("weather", "dry"): "dry",
    ("weather", "wet"): "wet",
    ("weather", "frost"): "frost or snow",
    ("light", "good"): "light good",
    ("light", "poor"): "light poor",
    **{("wind", force): f"wind {force}, {named}" for force, named in BEAUFORT.items()},
    **{("sea_state", code): f"sea {named}" for code, named in SEA_STATES.items()},
    ("sails_set", "none"): "no sail set",
    ("sails_set", "reduced"): "sails reefed or furled in part",
    ("sails_set", "full"): "all sails set",
    ("full_throttle", "none"): "not at full throttle",
    ("full_throttle", "brief"): "at full throttle less than five minutes",
    ("full_throttle", "long"): "at full throttle five minutes or more",
    ("load", "light"): "nearly empty",
    ("load", "laden"): "tanks and lockers full",
}
# What to write down of a sea trial on the day.
UNDER_WAY = (
    "Skipper in command",
    "Wind, Beaufort force",
    "Sea, WMO code 0 to 9",
    "Sails set",
    "Minutes at full throttle",
    "Tanks and lockers",
    "Off and back alongside",
)


def boat_sheet(look: LookToMake, title: str, *, apart: bool) -> Section:
    """apart: on sheets of its own, which people can share out."""
    return Section(title, (Facts(tuple(facts(look))),), tuple(parts(look)), new_page=apart)


def facts(look: LookToMake) -> Iterator[tuple[str, str]]:
    boat = look.visit.candidate
    yield "When", when(look)
    yield "Where", where(look)
    yield "Open on the day", open_on_day(look)
    yield "The boat", particulars(boat)
    if boat.asking_amount is not None:
        yield "Asked for her", money(boat.asking_amount, boat.asking_currency)
    yield "Seller", boat.get_seller_kind_display()
    yield "Expected", conditions(look)
    if look.is_sea_trial:
        yield from ((what, WRITE) for what in UNDER_WAY)


def when(look: LookToMake) -> str:
    starts = words.clock(look.visit.starts_at, look.zone)
    ends = look.visit.ends_at
    return f"{starts} to {words.clock(ends, look.zone)}" if ends else starts


def where(look: LookToMake) -> str:
    boat = look.visit.candidate
    place = words.position(boat.position) if boat.position else ""
    text = ", ".join(one for one in (yard_of(boat), place) if one) or "nobody said"
    note = boat.at_yard.note if boat.at_yard and not look.for_others else ""
    return f"{text}. {note}" if note else text


def yard_of(boat: Candidate) -> str:
    """Its name and the group's words for it, if they differ."""
    named = (boat.at_yard.name if boat.at_yard else "", boat.yard)
    return ", ".join(dict.fromkeys(one for one in named if one))


def open_on_day(look: LookToMake) -> str:
    if look.open_on_day is None:
        return "not known: ask the yard"
    if not look.open_on_day:
        return "closed: ask the yard before you go"
    spans = (
        f"{words.clock(opens, look.zone)} to {words.clock(closes, look.zone)}"
        for opens, closes in look.open_on_day
    )
    return words.listed(spans)


def particulars(boat: Candidate) -> str:
    text = [
        f"{boat.loa_m:.1f} m over all" if boat.loa_m else "",
        f"draught {boat.draught_m:.2f} m" if boat.draught_m else "",
        boat.get_hull_material_display(),
        f"keel {boat.get_keel_display()}" if boat.keel else "",
        f"rudder {boat.get_rudder_display()}" if boat.rudder else "",
        boat.get_drive_display(),
        boat.get_steering_display(),
        f"built {boat.build_year}" if boat.build_year else "",
        f"engine of {boat.engine_year}" if boat.engine_year else "",
        f"windlass: {boat.get_windlass_display()}" if boat.windlass else "",
        f"holding tank: {boat.get_holding_tank_display()}" if boat.holding_tank else "",
        f"teak deck: {boat.get_teak_deck_display()}" if boat.teak_deck else "",
        f"heater: {boat.get_heater_display()}" if boat.heater else "",
        f"hull number {boat.hull_number}" if boat.hull_number else "",
    ]
    return ", ".join(one for one in text if one) or "nothing said"


def conditions(look: LookToMake) -> str:
    text = [SAID[stated] for stated in look.conditions.items() if stated in SAID]
    if not text:
        return "not known; the checklist has all that may be possible"
    so = f" (as she lay on {words.day(look.lay_so)}; not known for the day)" if look.lay_so else ""
    return f"{', '.join(text)}{so}"


# --- Its parts -----------------------------------------------------------------------------------


def parts(look: LookToMake) -> Iterator[Section]:
    known = look.known
    if look.for_others:
        yield Section("For another group", tuple(asked(look)))
    if first := tuple(look_first(look)):
        yield Section("Look at these first", (Bullets(first),))
    if settle := tuple(to_settle(look)):
        yield Section(
            "To settle",
            (
                Paragraph(
                    "Look, measure and photograph; only the professional named, or a document, "
                    "clears a doubt."
                ),
                Bullets(settle),
            ),
        )
    if known.to_ask:
        yield Section("To ask", (questions(look),))
    yield Section("Checklist", tuple(checklist(look)))
    if prevented := tuple(not_possible(look)):
        yield Section("Not possible as she lies, and why", (Bullets(prevented),))
    yield Section("Notes", (WritingRoom("Other things seen", lines=6),))


def asked(look: LookToMake) -> Iterator[Block]:
    yield Paragraph(
        "She belongs to another group's list. This sheet leaves out others' findings on purpose. "
        "Send in your findings through the request that you accepted."
    )
    if look.known.asked:
        lines = tuple(Line(question, lead="They ask:") for question in look.known.asked)
        yield Bullets(lines)


def look_first(look: LookToMake) -> Iterator[Line]:
    """The possible checks with the highest value, with how to look."""
    possible = possible_codes(look)
    value = [one for one in look.known.checks if one["checkpoint"] in possible]
    for one in value[:MOST_CHECKS]:
        who = f" Best by {one['person']}." if one.get("person") else ""
        yield Line(f"{one['look']}{who}", lead=lead(one["title"]))


def possible_codes(look: LookToMake) -> set[str]:
    return {check.checkpoint.code for check in look.checklist.possible}


def to_settle(look: LookToMake) -> Iterator[Line]:
    if look.known.apart_on:
        titles = words.listed(f"“{title}”" for title in look.known.apart_on)
        yield Line(f"{titles}.", lead="People saw these two levels or more apart:")
    if look.known.look_again:
        titles = words.listed(f"“{title}”" for title in look.known.look_again)
        yield Line(f"{titles}.", lead="Look again together, because one of you saw it as failed:")
    if not look.known.doubts_known:
        yield Line(DOUBTS_UNREADABLE, lead="Doubts:")
    yield from doubt_lines(look.known.doubts)


def questions(look: LookToMake) -> Table:
    return Table(
        caption="Questions, with room for the answers",
        columns=(
            Column("Of whom", share=0.7),
            Column("Question", share=2.0),
            Column("Answer", "writing", share=2.0),
        ),
        parts=(Part(tuple((whom, question, WRITE) for whom, question in look.known.to_ask)),),
        names=1,
    )


def checklist(look: LookToMake) -> Iterator[Block]:
    first = first_look(look)
    found = [
        part_of(place.possible, title=PLACES[place.place], first=first)
        for place in look.checklist.places
        if place.possible
    ]
    if not found:
        yield Paragraph("No check is possible in these conditions.")
    if look.checklist.to_ask and not look.for_others:
        found.insert(0, part_of(look.checklist.to_ask, title=PLACES["ask"], first=first))
    if not found:
        return
    levels = ", ".join(f"{number} {name}" for number, name in enumerate(LEVEL_NAMES))
    yield Paragraph(
        f"Tick one box for each check: {levels}; or could not look, and why. Under each check "
        "is a description of its levels. An empty line means not looked at, not fine. "
        "Write what you saw, not what it means."
        f" Those marked * make a first look of about {FIRST_LOOK} minutes."
    )
    yield Table(
        caption="In walking order",
        columns=(
            Column("Check", share=1.4),
            *(Column(f"{number} {name}", "ticks") for number, name in enumerate(LEVEL_NAMES)),
            Column("could not look", "ticks"),
            Column("What you saw, or why not", "writing", share=1.2),
        ),
        parts=tuple(found),
    )


def first_look(look: LookToMake) -> frozenset[str]:
    """The codes of the checks of a first look."""
    adds = {one["checkpoint"]: float(one["moves"]["amount"]) for one in look.known.checks}
    short = look.checklist.first_look(FIRST_LOOK, adds)
    return frozenset(check.checkpoint.code for check in short.possible)


def part_of(checks: Sequence[PossibleCheck], *, title: str, first: Collection[str]) -> Part:
    ticks = (TICK,) * (len(LEVELS) + 1)
    minutes = sum(check.checkpoint.minutes for check in checks)
    return Part(
        tuple((check_title(check.checkpoint, first), *ticks, WRITE) for check in checks),
        title=f"{title} (about {minutes} min)",
        notes=tuple(notes_on(check) for check in checks),
    )


def notes_on(check: PossibleCheck) -> str:
    checkpoint = check.checkpoint
    asked = f"Ask: {checkpoint.ask} " if checkpoint.place == "ask" else ""
    why = words.listed(CONDITIONS[code] for code in check.hampered)
    guess = f"Counts as a guess: {why}. " if why else ""
    return f"{asked}{guess}{levels_in_words(checkpoint)}"


def check_title(checkpoint: CheckpointEntry, first: Collection[str]) -> str:
    mark = " *" if checkpoint.code in first else ""
    named = f"{checkpoint.title}{mark}"
    if checkpoint.professional_only:
        return f"{named} (note doubts only: for {article(checkpoint.professional)})"
    return named


def levels_in_words(checkpoint: CheckpointEntry) -> str:
    """'0: dry. 1: damp after rain. ...', in the catalogue's words."""
    return " ".join(
        words.ended(f"{number}: {described}") for number, described in enumerate(checkpoint.levels)
    )


def not_possible(look: LookToMake) -> Iterator[Line]:
    """By hindrance; a check that is not possible is still open, not fine."""
    by_reason: defaultdict[str, list[str]] = defaultdict(list)
    for place in look.checklist.places:
        for check in place.not_possible:
            by_reason[words.listed(CONDITIONS[code] for code in check.reasons)].append(
                check.checkpoint.title
            )
    for reason, titles in by_reason.items():
        yield Line(words.ended("; ".join(titles)), lead=f"{words.capital(reason)}:")
