"""The desk: a local page on which a case is changed by hand while its field follows.

`server.py` answers the browser and computes nothing; `lanes.py` gives each request to a process that runs `worker.py`,
which calls the library by way of `jobs.py`. The state of a desk is the page's own: every request carries the case's
name and the changes made to it, so that two pages know nothing of each other.
"""
