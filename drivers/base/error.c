#include "drivers/base/error.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>

bool error_set(struct error *e, enum error_kind kind, const char *format, ...)
{
    va_list arguments;

    assert(e->kind == ERROR_NONE);
    e->kind = kind;
    va_start(arguments, format);
    (void)vsnprintf(e->text, sizeof e->text, format, arguments);
    va_end(arguments);
    return false;
}
