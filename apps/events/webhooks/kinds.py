"""The kinds of events that webhooks can get."""

TRIAL = "webhook.trial"

KINDS: dict[str, str] = {
    "results.ready": "the results of a list were computed again",
    "looks.ready": "what to look at next was computed again; it comes after results.ready",
    "disagreement.found": "people differ by two levels or more on checkpoints of one boat",
    "submission.submitted": "somebody posted findings",
    "submission.superseded": "a submission was replaced by a correction",
    "clearance.added": "a doubt was cleared by a document",
    "clearance.withdrawn": "a clearance was withdrawn",
    "candidate.added": "a boat was added to a list",
    "candidate.changed": "particulars of a boat changed",
    "candidate.price_noted": "another asking price was added",
    "candidate.stage_changed": "a boat was moved to another stage, for example struck off",
    "list.created": "a list was made",
    "list.changed": "a list was renamed, or its brief changed",
    "list.opinions_opened": "everybody's valuations and orders of preference were opened to all",
    "viewing.added": "a visit was planned",
    "viewing.changed": "a visit was made, moved or called off",
    "follow_up.added": "a question was asked",
    "follow_up.changed": "a question was answered or given to somebody else",
    "quote.added": "a quote from a yard or trade was added",
    "quote.withdrawn": "a quote was withdrawn",
    "second_opinion_request.asked": "others of the club were asked for a look at a boat",
    "second_opinion_request.taken": "somebody outside the group took such a request, "
    "and sees the boat",
    "second_opinion_request.answered": "they answered, and no longer see her",
    "second_opinion_request.handed_back": "they handed it back unfinished",
    "second_opinion_request.access_ended": "the group ended their access",
    "second_opinion_request.access_lapsed": "their access lapsed, for example because "
    "they are no longer an adviser",
    "second_opinion_request.withdrawn": "the request was withdrawn",
    "catalogue.changed": "the group or its club changed an entry of its catalogue",
    "group.joined_club": "the group joined a club, and uses its catalogue and its yards",
    "group.left_club": "the group no longer belongs to its club",
    "member.joined": "somebody joined the group",
    "member.changed": "a member got another role",
    "member.left": "somebody left the group",
}
