#include "drivers/base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"

bool text_reserve(struct text *t, size_t length)
{
    size_t ceiling = t->ceiling ? t->ceiling : CEILING_OUTPUT;
    struct error e = {0};
    char *bigger;

    if (t->failed) return false;
    if (length > ceiling) {
        t->failed = true;
        return false;
    }
    if (t->data && length + 1 <= t->capacity) return true;
    bigger = memory_grow(t->data, &t->capacity, length + 1, 1, ceiling + 1, "bytes of text", &e);
    if (!bigger) {
        t->failed = t->no_memory = true;
        return false;
    }
    t->data = bigger;
    return true;
}

void text_add_bytes(struct text *t, const char *bytes, size_t length)
{
    if (length > (size_t)-1 - t->length - 1 || !text_reserve(t, t->length + length)) {
        t->failed = true;
        return;
    }
    if (length) memcpy(t->data + t->length, bytes, length);
    t->length += length;
    t->data[t->length] = '\0';
}

void text_add(struct text *t, const char *words)
{
    text_add_bytes(t, words, strlen(words));
}

void text_addf(struct text *t, const char *format, ...)
{
    char small[256];
    va_list arguments, again;
    int length;

    va_start(arguments, format);
    va_copy(again, arguments);
    length = vsnprintf(small, sizeof small, format, arguments);
    va_end(arguments);
    if (length < 0) {
        t->failed = true;
    } else if ((size_t)length < sizeof small) {
        text_add_bytes(t, small, (size_t)length);
    } else if (text_reserve(t, t->length + (size_t)length)) {
        (void)vsnprintf(t->data + t->length, (size_t)length + 1, format, again);
        t->length += (size_t)length;
    }
    va_end(again);
}

void text_add_number(struct text *t, double x)
{
    char digits[NUMBER_TEXT];

    text_add_bytes(t, digits, number_format(x, digits));
}

void text_add_fixed(struct text *t, double x, int decimals)
{
    char digits[NUMBER_FIXED_TEXT];

    text_add_bytes(t, digits, number_format_fixed(x, decimals, digits));
}

const char *text_words(const struct text *t)
{
    return t->data ? t->data : "";
}

bool text_ok(const struct text *t, const char *what, struct error *e)
{
    if (!t->failed) return true;
    if (t->no_memory) return error_set(e, ERROR_MEMORY, "out of memory while writing %s", what);
    return error_set(e, ERROR_STORE, "%s would be larger than %zu bytes", what,
                     t->ceiling ? t->ceiling : CEILING_OUTPUT);
}

void text_reset(struct text *t)
{
    t->length = 0;
    t->failed = t->no_memory = false;
    if (t->data) t->data[0] = '\0';
}

void text_clear(struct text *t)
{
    memory_free(t->data);
    *t = (struct text){0};
}
