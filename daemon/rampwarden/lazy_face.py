"""A package's face that imports what is asked of it, when it is asked: whoever lists crucibles need not load the watch.

A face stands in its `__init__` as ever, only that nobody but a type checker runs the imports:

    if TYPE_CHECKING:
        from rampwarden.records.locks import PortLock
    else:
        __getattr__ = lazy_face(__name__)

They are read from there, so that a name and its module stand in one place. A module that says
`from rampwarden.records import PortLock` at its head still loads it then and there: a watch has all it needs before the
heat begins, when the disk may no longer answer. From Python 3.15 on `lazy from … import` will say the same.
"""

import re
import sys
from collections.abc import Callable
from importlib import import_module
from importlib.machinery import SourceFileLoader

_IMPORT = re.compile(r"^    from ([\w.]+) import (?:\(([^)]*)\)|(.+))$", re.MULTILINE)


def lazy_face(package: str) -> Callable[[str], object]:
    """Give the `__getattr__` of `package` (PEP 562). A name is imported once and then the package's own.

    A name must not be that of a module beside it: once loaded, the module would take its place. Such a one is imported
    outright. Raises `TypeError` for one that is not.
    """
    spec = sys.modules[package].__spec__
    if spec is None or not isinstance(spec.loader, SourceFileLoader):
        raise TypeError(f"{package}: a face is read from its own source")
    source = spec.loader.get_source(package) or ""
    places: dict[str, str] = {}
    for module, several, one in _IMPORT.findall(source):
        places.update((name, module) for name in re.findall(r"\w+", several or one))
    hidden = sorted(name for name, module in places.items() if module == f"{package}.{name}")
    if hidden:
        raise TypeError(
            f"{package}: {', '.join(hidden)} would be hidden by the module of that name; import it outright"
        )

    def look_up(name: str) -> object:
        place = places.get(name)
        if place is None:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found: object = getattr(import_module(place), name)
        setattr(sys.modules[package], name, found)
        return found

    return look_up
