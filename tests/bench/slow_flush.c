/* A disk whose flush takes SLOW_FLUSH_US longer, for whatever program loads this before the C library. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <unistd.h>

static int slowly(const char *name, int file)
{
    int (*flush)(int) = (int (*)(int))dlsym(RTLD_NEXT, name);
    const char *longer = getenv("SLOW_FLUSH_US");
    int done = flush(file);
    if (longer)
        usleep((useconds_t)atol(longer));
    return done;
}

int fsync(int file) { return slowly("fsync", file); }
int fdatasync(int file) { return slowly("fdatasync", file); }
