"""Processes that tests start end with them, also where a run is killed: else an emulated board
would keep a core busy for ever.
"""

WITH_US = ["setpriv", "--pdeathsig", "KILL", "--"]
"""Before a command: the kernel ends it as soon as the thread that started it is gone
(util-linux, on every Debian).
"""
