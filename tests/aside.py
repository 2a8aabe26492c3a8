"""The process in which benches of tests find key numbers: one for all of a test process, since it
takes a second to start.
"""

from fxseq.bench.worker import WorkProcess

ASIDE = WorkProcess()
