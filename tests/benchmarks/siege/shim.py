"""What stands before the system in a child process: a disk that hangs and a wall clock that steps, by two small files.

Compiled here. Only the wall clock of that process is touched; clocks that nobody can set stay true.
"""

import subprocess
from dataclasses import dataclass
from pathlib import Path

_SOURCE = """
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>
typedef int (*clock_reader)(clockid_t, struct timespec *);
static int real_clock(clockid_t id, struct timespec *out) {
    static clock_reader real;
    if (!real) real = (clock_reader) dlsym(RTLD_NEXT, "clock_gettime");
    return real(id, out);
}
static long off_s(void) {
    static long off, looked_ms = -1000;
    struct timespec now;
    real_clock(CLOCK_MONOTONIC, &now);
    long now_ms = now.tv_sec * 1000 + now.tv_nsec / 1000000;
    if (now_ms - looked_ms < 100) return off;
    looked_ms = now_ms;
    const char *name = getenv("SIEGE_WALL");
    char text[32] = "";
    int file = name ? open(name, O_RDONLY | O_CLOEXEC) : -1;
    if (file < 0) return off;
    if (read(file, text, sizeof text - 1) > 0) off = atol(text);
    close(file);
    return off;
}
int clock_gettime(clockid_t id, struct timespec *out) {
    int failed = real_clock(id, out);
    if (!failed && (id == CLOCK_REALTIME || id == CLOCK_REALTIME_COARSE)) out->tv_sec += off_s();
    return failed;
}
int gettimeofday(struct timeval *out, void *zone) {
    struct timespec now;
    (void) zone;
    clock_gettime(CLOCK_REALTIME, &now);
    out->tv_sec = now.tv_sec;
    out->tv_usec = now.tv_nsec / 1000;
    return 0;
}
time_t time(time_t *out) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (out) *out = now.tv_sec;
    return now.tv_sec;
}
static void wait_for_disk(void) {
    const char *name = getenv("SIEGE_HANGING");
    while (name && access(name, F_OK) == 0) usleep(10000);
}
int fdatasync(int f) { wait_for_disk(); return ((int (*)(int)) dlsym(RTLD_NEXT, "fdatasync"))(f); }
int fsync(int f) { wait_for_disk(); return ((int (*)(int)) dlsym(RTLD_NEXT, "fsync"))(f); }
"""


@dataclass(frozen=True)
class Shim:
    """The library, and the two files it looks at."""

    library: Path
    hanging: Path
    wall: Path

    @classmethod
    def make(cls, folder: Path) -> "Shim":
        """Compile it."""
        source, library = folder / "shim.c", folder / "shim.so"
        source.write_text(_SOURCE)
        subprocess.run(["gcc", "-O1", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
        shim = cls(library, folder / "hanging", folder / "wall")
        shim.step(0)
        return shim

    @property
    def environment(self) -> dict[str, str]:
        """What a child needs to have it."""
        return {"LD_PRELOAD": str(self.library), "SIEGE_HANGING": str(self.hanging), "SIEGE_WALL": str(self.wall)}

    def step(self, by_s: int) -> None:
        """Set the children's wall clock so far off, seconds."""
        fresh = self.wall.with_suffix(".fresh")
        fresh.write_text(str(by_s))
        fresh.rename(self.wall)
