"""What a webhook may be told of: the kinds of event that mean something to another program."""

TRIAL = "webhook.trial"

KINDS: dict[str, str] = {
    "results.ready": "the results of a list were worked out anew",
    "looks.ready": "what to look at next was worked out anew; it comes after results.ready",
    "disagreement.found": "people differ by two levels or more on checkpoints of one boat",
    "submission.submitted": "somebody posted findings",
    "submission.superseded": "a submission was replaced by a correction",
    "clearance.added": "a doubt was cleared by a document",
    "clearance.withdrawn": "a clearance was taken back",
    "candidate.added": "a boat came onto a list",
    "candidate.changed": "particulars of a boat changed",
    "candidate.price_noted": "another asking price was noted",
    "candidate.stage_changed": "a boat was moved to another stage, struck off for instance",
    "list.created": "a list was made",
    "list.changed": "a list was renamed, or its brief changed",
    "list.opinions_opened": "everybody's worths and orders of preference were opened to all",
    "viewing.added": "a visit was planned",
    "viewing.changed": "a visit was made, moved or called off",
    "follow_up.added": "a question was asked",
    "follow_up.changed": "a question was answered or given to somebody else",
    "quote.added": "a quote from a yard or trade was noted",
    "quote.withdrawn": "a quote was withdrawn",
    "member.joined": "somebody joined the group",
    "member.changed": "a member got another role",
    "member.left": "somebody left the group",
}
