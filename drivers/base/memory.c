#include "drivers/base/memory.h"

#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Test-only countdown; zero in the shipped program's life. */
static atomic_ulong fail_countdown;

void memory_fail_at(unsigned long nth)
{
    atomic_store(&fail_countdown, nth);
}

static bool told_to_fail(void)
{
    if (atomic_load(&fail_countdown) == 0) return false;
    return atomic_fetch_sub(&fail_countdown, 1) == 1;
}

static void *no_memory(struct error *e)
{
    (void)error_set(e, ERROR_MEMORY, "out of memory: close other programs or use fewer --jobs");
    return NULL;
}

void *memory_make(size_t count, size_t size, struct error *e)
{
    void *p = told_to_fail() ? NULL : calloc(count ? count : 1, size);

    return p ? p : no_memory(e);
}

void *memory_grow(void *old, size_t *capacity, size_t need, size_t size, size_t ceiling,
                  const char *what, struct error *e)
{
    size_t wanted = *capacity ? *capacity : 8;
    void *bigger;

    if (need <= *capacity && old) return old;
    if (need > ceiling || ceiling > SIZE_MAX / 2 / size) {
        (void)error_set(e, ERROR_INPUT, "more than %zu %s: this cannot be right", ceiling, what);
        return NULL;
    }
    while (wanted < need)
        wanted *= 2;
    if (wanted > ceiling) wanted = ceiling;
    bigger = told_to_fail() ? NULL : realloc(old, wanted * size);
    if (!bigger) return no_memory(e);
    memset((char *)bigger + *capacity * size, 0, (wanted - *capacity) * size);
    *capacity = wanted;
    return bigger;
}

char *memory_copy_bytes(const char *text, size_t length, struct error *e)
{
    char *copy = memory_make(length + 1, 1, e);

    if (copy && length) memcpy(copy, text, length);
    return copy;
}

char *memory_copy_text(const char *text, struct error *e)
{
    return memory_copy_bytes(text, strlen(text), e);
}

void memory_free(void *p)
{
    free(p);
}
