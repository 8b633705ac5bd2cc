#include "drivers/bench_file.h"

#include <string.h>

#include "drivers/base/memory.h"

bool bench_port_is(const struct bench_instrument *instrument, const char *scheme)
{
    const size_t length = strlen(scheme);

    return instrument->port && strncmp(instrument->port, scheme, length) == 0 &&
           instrument->port[length] == ':';
}

static void clear_instrument(struct bench_instrument *instrument)
{
    memory_free(instrument->profile);
    memory_free(instrument->port);
    memory_free(instrument->channel);
}

void bench_file_clear(struct bench_file *file)
{
    memory_free(file->path);
    memory_free(file->label);
    memory_free(file->note);
    clear_instrument(&file->analyser);
    clear_instrument(&file->supply);
    memory_free(file->fixture);
    memory_free(file->layout);
    memory_free(file->correction.done);
    memory_free(file->reference.serial);
    memory_free(file->reference.sweeps);
    *file = (struct bench_file){0};
}
