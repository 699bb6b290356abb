"""Sends events to other programs by HTTP, by the Standard Webhooks specification (1.0.0).

Messages are written in the transaction of their event (`outbox`); workers send them (`sending`)
until they are delivered or their schedule ends. apps/groups checks who may manage webhooks.
"""
