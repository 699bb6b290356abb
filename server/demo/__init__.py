"""An invented group plays the main job through HTTP, as any other program would.

scenario.py reads the story from fixtures/demo, client.py speaks HTTP, play.py lets the people act,
show.py prints what the service answers, service.py starts and stops it. Only the standard library:
nothing in here imports the service, and everything printed comes out of an answer.
"""
