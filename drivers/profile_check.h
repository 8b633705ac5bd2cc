/* What a schema cannot say about a profile; see profile_read() for the list. */
#ifndef GAINSIEVE_PROFILE_CHECK_H
#define GAINSIEVE_PROFILE_CHECK_H

#include "drivers/profile.h"

/* ERROR_INPUT with file and line; `line` is that of the outermost element, for what is missing. */
bool profile_check(const struct profile *profile, unsigned long line, struct error *e) MUST_CHECK;

#endif
