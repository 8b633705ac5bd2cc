/* Random numbers that are the same on every machine.
 *
 * Generator: xoshiro256** of D. Blackman and S. Vigna, its state filled by splitmix64 (both
 * published algorithms, written from memory). Deviates use + - * only. Not for secrets. */
#ifndef GAINSIEVE_RANDOM_SOURCE_H
#define GAINSIEVE_RANDOM_SOURCE_H

#include <stdint.h>

struct random_source {
    uint64_t state[4];
};

/* One step of splitmix64: advances `*state` and returns the next number. */
uint64_t random_splitmix64(uint64_t *state);

/* Begins the sequence that belongs to these three numbers; others give unrelated sequences. */
void random_begin(struct random_source *source, uint64_t seed, uint64_t number, uint64_t purpose);

/* 64 random bits. */
uint64_t random_bits(struct random_source *source);

/* From 0 to below 1, in steps of 2^-53. */
double random_uniform(struct random_source *source);

/* Mean 0, standard deviation 1: the sum of twelve uniform numbers less six, which is nearly normal
 * and never beyond 6. */
double random_normal(struct random_source *source);

#endif
