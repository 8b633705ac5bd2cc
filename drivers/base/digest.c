#include "drivers/base/digest.h"

#include <nettle/sha2.h>
#include <stdint.h>

static void digest(const void *bytes, size_t length, uint8_t out[SHA256_DIGEST_SIZE])
{
    struct sha256_ctx context;

    sha256_init(&context);
    sha256_update(&context, length, bytes);
    sha256_digest(&context, SHA256_DIGEST_SIZE, out);
}

void digest_hex(const void *bytes, size_t length, char out[DIGEST_HEX])
{
    static const char digits[] = "0123456789abcdef";
    uint8_t d[SHA256_DIGEST_SIZE];

    digest(bytes, length, d);
    for (size_t i = 0; i < sizeof d; i++) {
        out[2 * i] = digits[d[i] >> 4];
        out[2 * i + 1] = digits[d[i] & 15];
    }
    out[2 * sizeof d] = '\0';
}

void digest_base64(const void *bytes, size_t length, char out[DIGEST_BASE64])
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    uint8_t d[SHA256_DIGEST_SIZE + 1] = {0};
    size_t n = 0;

    digest(bytes, length, d);
    /* 33 bytes are eleven groups of three; the last byte is none of the digest's. */
    for (size_t i = 0; i < sizeof d; i += 3) {
        uint32_t group = (uint32_t)d[i] << 16 | (uint32_t)d[i + 1] << 8 | d[i + 2];

        for (int shift = 18; shift >= 0; shift -= 6)
            out[n++] = digits[group >> shift & 63];
    }
    out[n - 1] = '=';
    out[n] = '\0';
}
