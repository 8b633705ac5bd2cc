/* `emulated:` ports: the emulated bench in a process of its own, behind socket pairs, so that
 * trying and testing run the real protocol code. */
#ifndef GAINSIEVE_EMULATED_BENCH_H
#define GAINSIEVE_EMULATED_BENCH_H

#include <sys/types.h>

#include "drivers/bench_file.h"

struct emulated_bench {
    pid_t pid;          /* 0: none */
    int descriptors[3]; /* our ends of analyser, supply and fixture; else -1 */
};

/* Starts it when a port of the file asks for it, and writes the ports of the file anew as fd:N.
 * Options stand behind the analyser's port: emulated:analyser?seed=7&fault=cut@3&sweep-time=yes .
 * ERROR_BENCH, ERROR_INPUT, ERROR_MEMORY. */
bool emulated_bench_start(struct emulated_bench *out, struct bench_file *file,
                          struct error *e) MUST_CHECK;

/* Hangs up and waits for its end, which comes when all its links are closed too. Harmless on zero
 * and twice. */
void emulated_bench_end(struct emulated_bench *b);

#endif
