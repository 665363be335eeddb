"""Every heat of a folder or an archive under other limits: what would have been said that was not, and the other way.

Each heat is one task for the pure core and knows nothing of the others, so tasks go wherever there is a processor: this
process, its children (`in_processes`), or the workers of a cluster (`on_cluster`). The answers stand in the order of
the tasks, so the table is the same to the byte wherever they were made.
"""

from rampwarden.mass_replay.answers import HeatAnswer, Moved, Raised, compared
from rampwarden.mass_replay.in_processes import run_in_processes
from rampwarden.mass_replay.on_cluster import run_on_cluster
from rampwarden.mass_replay.one_heat import Otherwise, Task, answer

__all__ = [
    "HeatAnswer",
    "Moved",
    "Otherwise",
    "Raised",
    "Task",
    "answer",
    "compared",
    "run_in_processes",
    "run_on_cluster",
]
