/* A file of the source tree that the build puts into the program: schemas, style sheet, script. */
#ifndef GAINSIEVE_BASE_EMBEDDED_H
#define GAINSIEVE_BASE_EMBEDDED_H

#include <stddef.h>

struct embedded {
    const char *bytes; /* NUL-ended */
    size_t length;     /* without the NUL */
};

#endif
