"""Telling other programs by HTTP what happened, by the Standard Webhooks specification (1.0.0).

Messages to send are written in the transaction of the event they tell of (`outbox`); workers send
them (`sending`) until they got through or their schedule is over. Who may manage the webhooks of a
group is not asked here: the groups know.
"""
