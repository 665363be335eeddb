"""structlog without rich; whoever logs imports it from here.

structlog imports rich wherever it is installed, to draw tracebacks in colour, and a watch would keep 3 MB of it for
nothing: its log is plain lines for a terminal or a journal. So rich is not let be found meanwhile: a name that is None
in `sys.modules` cannot be imported, as Python's reference says. Whoever draws with rich imports it as ever.
"""

import sys

__all__ = ["structlog"]

_UNUSED = "rich"

if _UNUSED in sys.modules:
    import structlog
else:
    sys.modules[_UNUSED] = None  # type: ignore[assignment]
    try:
        import structlog
    finally:
        del sys.modules[_UNUSED]
