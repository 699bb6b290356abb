"""The demo: an invented group uses the service through HTTP, as any other program would.

scenario.py reads the story from fixtures/demo, client.py speaks HTTP, play.py and buying.py let the
people act, show.py prints what the service answers, service.py starts and stops it. It uses only
the standard library and imports nothing of the service; everything it prints comes from answers.
"""
