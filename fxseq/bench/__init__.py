"""The bench: a prop in the browser, pressed, seen, heard, turned and sent. A rim: it serves one
page to this machine alone, and opens files.

May import every floor but `cli`. Two ideas. The desk is pure of the network: it holds the text that
is being edited and the prop compiled from it, and every change is a new revision or a list of
faults. The guard stands before the whole server and lets nobody in but the page that this run has
opened. Whatever takes long is done in threads.
"""

from fxseq.bench.desk import Desk, OutsideChange, Version

__all__ = ["Desk", "OutsideChange", "Version"]
