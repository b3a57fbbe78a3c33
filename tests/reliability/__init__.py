"""What people wrote is kept, whatever happens to the program: shown with the real command on a real database.

Each test here runs the server or a command as people start it, lets something bad happen, and hands what was
asked for and what is found afterwards to one checker.

* `checker.py` judges: what was answered as saved is there once, what was refused is not, what got no answer is there
  once at most, the history tells the same story as the tables, and sums agree. `test_checker.py` holds wrong
  stories against it.
* `browsing.py` is a person with a browser, `working.py` many of them who write everything down, `serving.py` starts
  and stops servers.
* `driver.py` runs the command in a process that kills itself at a named point. Nothing of it stands in the program:
  it wraps the program's functions from outside. `points.py` lists the points; `test_points_are_complete.py` finds each
  place in the program that commits, renames or links, and fails if no point stands for it.
* `power.py` records what a database writes and when it waits for the disk, and makes of that what a power cut leaves.
* `saboteur.py`: each test of safety is also run with its safety taken away, and must fail then.

`make test` runs a tenth, `make soak` all; `docs/reliability.md` has the last full figures.
"""
