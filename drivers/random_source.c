#include "drivers/random_source.h"

static uint64_t rotate_left(uint64_t x, unsigned bits)
{
    return (x << bits) | (x >> (64 - bits));
}

uint64_t random_splitmix64(uint64_t *state)
{
    uint64_t z;

    *state += UINT64_C(0x9e3779b97f4a7c15);
    z = *state;
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

void random_begin(struct random_source *source, uint64_t seed, uint64_t number, uint64_t purpose)
{
    uint64_t mixer = seed;

    mixer = random_splitmix64(&mixer) ^ number;
    mixer = random_splitmix64(&mixer) ^ purpose;
    for (unsigned i = 0; i < 4; i++)
        source->state[i] = random_splitmix64(&mixer);
}

uint64_t random_bits(struct random_source *source)
{
    uint64_t *s = source->state;
    uint64_t result = rotate_left(s[1] * 5, 7) * 9;
    uint64_t shifted = s[1] << 17;

    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= shifted;
    s[3] = rotate_left(s[3], 45);
    return result;
}

double random_uniform(struct random_source *source)
{
    return (double)(random_bits(source) >> 11) * 0x1p-53;
}

double random_normal(struct random_source *source)
{
    double sum = 0;

    for (unsigned i = 0; i < 12; i++)
        sum += random_uniform(source);
    return sum - 6;
}
