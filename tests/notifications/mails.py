"""A mail server for tests, and handing digests to it."""

from django.core.mail.backends.locmem import EmailBackend
from django.db import transaction

from apps.notifications.mail.mailing import digests_send


class Server(EmailBackend):
    """A mail server with set answers that keeps the mails it accepted."""

    def __init__(self, fault=None, *, opens=True):
        super().__init__()
        self.fault, self.opens, self.taken, self.inside = fault, opens, [], []

    def open(self):
        if not self.opens:
            raise ConnectionRefusedError("no mail server there")

    def send_messages(self, messages):
        self.inside.append(transaction.get_connection().in_atomic_block)
        if self.fault:
            raise self.fault
        self.taken += messages
        return len(messages)


def send(server=None):
    server = server or Server()
    digests_send(lambda: server)
    return server.taken
