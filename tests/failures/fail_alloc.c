/* Loaded before the C library (LD_PRELOAD): makes one allocation of the program fail, once.
 *
 * A site is a way through the program by which memory is asked for: the return addresses of the
 * program's own code, innermost first, relative to where it is loaded.
 *     FAIL_LIST=FILE   append each site that is met, once, one line of hexadecimal digits
 *     FAIL_SITE=HEX    the first allocation at that site returns NULL with ENOMEM
 *     FAIL_TRACE=FILE  and the way to it is written here
 * Only for the dynamic GNU C library; __libc_malloc and its fellows are its own functions. */
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <link.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *p, size_t size);

enum { FRAMES = 48, SITES = 1 << 16 };

static struct {
    uintptr_t low, high; /* where the program's own code lies */
    uintptr_t base;
    uint64_t fail;
    int list, trace; /* file descriptors, -1: none */
    int failing, ready;
    uint64_t seen[SITES];
    pthread_mutex_t lock;
} self = {.list = -1, .trace = -1, .lock = PTHREAD_MUTEX_INITIALIZER};
static __thread int inside; /* what this file itself asks for is not counted */

static int find_program(struct dl_phdr_info *info, size_t size, void *arg)
{
    (void)size;
    (void)arg;
    self.base = info->dlpi_addr;
    for (int i = 0; i < info->dlpi_phnum; i++) {
        const ElfW(Phdr) *p = &info->dlpi_phdr[i];
        if (p->p_type == PT_LOAD && (p->p_flags & PF_X)) {
            self.low = info->dlpi_addr + p->p_vaddr;
            self.high = self.low + p->p_memsz;
        }
    }
    return 1; /* the program comes first */
}

__attribute__((constructor)) static void begin(void)
{
    const char *list = getenv("FAIL_LIST");
    const char *site = getenv("FAIL_SITE");
    const char *trace = getenv("FAIL_TRACE");
    void *frame[4];
    inside = 1;
    (void)backtrace(frame, 4); /* loads what it needs now */
    dl_iterate_phdr(find_program, NULL);
    if (list)
        self.list = open(list, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if (trace)
        self.trace = open(trace, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if (site) {
        self.fail = strtoull(site, NULL, 16);
        self.failing = 1;
    }
    /* what the program starts is not meant */
    unsetenv("LD_PRELOAD");
    unsetenv("FAIL_LIST");
    unsetenv("FAIL_SITE");
    unsetenv("FAIL_TRACE");
    inside = 0;
    self.ready = self.list >= 0 || self.failing;
}

static uint64_t site_of(void)
{
    void *frame[FRAMES];
    const int n = backtrace(frame, FRAMES);
    uint64_t hash = 1469598103934665603U; /* FNV-1a */
    int own = 0;
    for (int i = 0; i < n; i++) {
        const uintptr_t at = (uintptr_t)frame[i];
        if (at < self.low || at >= self.high)
            continue;
        own++;
        uintptr_t offset = at - self.base;
        for (size_t k = 0; k < sizeof offset; k++, offset >>= 8)
            hash = (hash ^ (offset & 255)) * 1099511628211U;
    }
    return own > 0 ? hash : 0;
}

/* Whether the site was met for the first time. */
static int is_new(uint64_t site)
{
    for (uint64_t i = site % SITES, tries = 0; tries < SITES; i = (i + 1) % SITES, tries++) {
        if (self.seen[i] == site)
            return 0;
        if (self.seen[i] == 0) {
            self.seen[i] = site;
            return 1;
        }
    }
    return 0;
}

static int fails(void)
{
    if (!self.ready || inside)
        return 0;
    inside = 1;
    const uint64_t site = site_of();
    int fail = 0;
    if (site != 0) {
        pthread_mutex_lock(&self.lock);
        if (self.failing && site == self.fail) {
            self.failing = 0;
            fail = 1;
        }
        if (self.list >= 0 && is_new(site)) {
            char line[32];
            const int n = snprintf(line, sizeof line, "%016llx\n", (unsigned long long)site);
            if (write(self.list, line, (size_t)n) != n)
                abort();
        }
        pthread_mutex_unlock(&self.lock);
    }
    if (fail && self.trace >= 0) {
        void *frame[FRAMES];
        backtrace_symbols_fd(frame, backtrace(frame, FRAMES), self.trace);
    }
    inside = 0;
    if (fail)
        errno = ENOMEM;
    return fail;
}

void *malloc(size_t size)
{
    return fails() ? NULL : __libc_malloc(size);
}

void *calloc(size_t n, size_t size)
{
    return fails() ? NULL : __libc_calloc(n, size);
}

void *realloc(void *p, size_t size)
{
    return fails() ? NULL : __libc_realloc(p, size);
}
